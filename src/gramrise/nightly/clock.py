"""Whether the machine's clock jumped: the wall clock against the machine's own count of time since it started."""

import time
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from gramrise.nightly.settings import NightlySettings
from gramrise.store import Store, instant, stored

SEEN: Final = "clock_seen"
JUMPED: Final = "clock_jumped"


def _machine() -> tuple[str, float]:
    """Which start of the machine this is, and the seconds since, sleep included; ('', 0) where it does not tell."""
    with suppress(OSError, AttributeError):
        start = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        return start, time.clock_gettime(time.CLOCK_BOOTTIME)
    return "", 0.0


def look_at_clock(
    store: Store, now_utc: datetime, settings: NightlySettings, machine: tuple[str, float] | None = None
) -> timedelta:
    """Compares with the look before, notes a jump, and returns it (0 when none; negative: set back).

    Within one start of the machine the wall clock must have moved as much as the machine counted; across starts it
    must not have gone back.
    """
    start, counted = machine if machine is not None else _machine()
    before = store.runs.noted(SEEN)
    store.runs.note(SEEN, {"at": stored(now_utc), "start": start, "counted": counted})
    jump = _jump(before, now_utc, start, counted) if before else timedelta()
    if abs(jump) < timedelta(minutes=settings.clock_jump_minutes):
        return timedelta()
    store.runs.note(JUMPED, {"at": stored(now_utc), "minutes": round(jump / timedelta(minutes=1))})
    return jump


def _jump(before: dict[str, Any], now_utc: datetime, start: str, counted: float) -> timedelta:
    moved = now_utc - instant(before["at"])
    if start and before["start"] == start:
        return moved - timedelta(seconds=counted - before["counted"])
    return min(moved, timedelta())


def latest_jump(store: Store, now_utc: datetime, settings: NightlySettings) -> int | None:
    """Minutes of a jump noted within the days it is told for; None when there was none."""
    noted = store.runs.noted(JUMPED)
    if noted is None:
        return None
    ago = abs(now_utc - instant(noted["at"]))
    return int(noted["minutes"]) if ago <= timedelta(days=settings.clock_jump_kept_days) else None
