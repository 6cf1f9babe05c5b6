"""Numbers for a scraper of metrics, in the text form of OpenMetrics' forerunner: no health value, no name, no id.

What is trouble is asked of `check_health`, so that a monitor and a person never hear different things.
"""

from datetime import datetime
from pathlib import Path
from typing import Final

from gramrise.domain.problems import CouldNotRun, GramriseError
from gramrise.nightly import inbox
from gramrise.nightly.health import check_health
from gramrise.nightly.settings import NightlySettings
from gramrise.store import GIVEN_UP, NEWEST_STEP, NIGHTLY, SENDING, WAITING, WEEKLY, Store

# Help of each number, which a scraper shows beside it.
NUMBERS: Final = {
    "gramrise_exit_status": "0 all well, 1 something wants looking after, 3 nothing can run",
    "gramrise_persons": "persons known",
    "gramrise_last_night_age_seconds": "since the last nightly pass that came to its end began",
    "gramrise_nights_failing": "persons whose latest night failed",
    "gramrise_weeks_failing": "persons whose latest weekly report could not be written",
    "gramrise_mails_waiting": "letters that no server has taken yet",
    "gramrise_mails_given_up": "letters that are not tried any more",
    "gramrise_files_waiting": "files in the inbox that were not taken in yet",
    "gramrise_files_held": "files that wait to be mended",
    "gramrise_persons_without_new_readings": "persons whose latest reading is older than no_readings_days",
    "gramrise_schema_step": "step of the tables",
}


def metrics_text(home: Path, now_utc: datetime, settings: NightlySettings | None = None) -> bytes:
    """The metrics of a home, to be served or written to a file. Changes nothing. CouldNotRun without the library.

    Where nothing can run there is still `gramrise_exit_status` and the codes of what is wrong.
    """
    try:
        from prometheus_client import CollectorRegistry, Gauge, generate_latest
    except ModuleNotFoundError as absent:
        raise CouldNotRun(
            "the library for metrics is not installed", "pip install 'gramrise[metrics]'", "driver_missing"
        ) from absent
    registry = CollectorRegistry()
    found = check_health(home, now_utc, settings, whole=False)
    codes = Gauge("gramrise_findings", "what `gramrise check` finds, by its code", ["code"], registry=registry)
    for finding in found.findings:
        codes.labels(finding.code).inc()
    numbers: dict[str, float] = {"gramrise_exit_status": found.exit_status}
    if found.exit_status != 3:
        try:
            numbers |= _numbers(home, now_utc)
        except GramriseError:
            numbers["gramrise_exit_status"] = 3
    stale = sum(finding.code == "no_readings" for finding in found.findings)
    numbers["gramrise_persons_without_new_readings"] = stale
    for name, help_text in NUMBERS.items():
        if name in numbers:
            Gauge(name, help_text, registry=registry).set(numbers[name])
    return bytes(generate_latest(registry))


def _numbers(home: Path, now_utc: datetime) -> dict[str, float]:
    with Store.open(home, create=False) as store:
        persons = store.persons()
        states = [letter.state for letter in store.outbox.all()]
        last = store.runs.latest(NIGHTLY)
        numbers: dict[str, float] = {
            "gramrise_persons": len(persons),
            "gramrise_nights_failing": len(store.runs.failing(NIGHTLY)),
            "gramrise_weeks_failing": len(store.runs.failing(WEEKLY)),
            "gramrise_mails_waiting": sum(state in {WAITING, SENDING} for state in states),
            "gramrise_mails_given_up": states.count(GIVEN_UP),
            "gramrise_files_waiting": inbox.waiting_files(home, persons),
            "gramrise_files_held": inbox.held_files(home),
            "gramrise_schema_step": int(NEWEST_STEP),
        }
        if last is not None:
            numbers["gramrise_last_night_age_seconds"] = (now_utc - last.started_at_utc).total_seconds()
    return numbers
