"""One person's findings, brought up to date: inputs, lows and treatments, factors, saved as one."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from gramrise.config.settings import load
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.problems import CouldNotRun
from gramrise.store import BEGINNING, Before, GoingOn, Store, instant

if TYPE_CHECKING:
    from gramrise.detect import Detected, DetectSettings
    from gramrise.estimate import EstimateSettings

BEGINNING_UTC = instant(BEGINNING)

# Our choice: inputs that change under the computation this often in a row mean another program writes without rest.
TRIES = 3


@dataclass(frozen=True, slots=True)
class Rules:
    """Settings of detect and estimate; `basis` says what was detected with which."""

    detect: "DetectSettings"
    estimate: "EstimateSettings"
    basis: str


def rules_of(home: Path | None) -> Callable[[], Rules]:
    """The rules of a home, read when first asked for and then kept. Raises WrongUse when asked, not before."""

    @cache
    def rules() -> Rules:
        from gramrise.detect import DetectSettings
        from gramrise.estimate import estimate_settings

        detecting = load("detect", DetectSettings, home)
        return Rules(detecting, estimate_settings(home), detecting.model_dump_json())

    return rules


def run_person(
    store: Store, person_id: str, now_utc: datetime, home: Path | None = None, as_shown: bool = False
) -> Findings:
    """Finds everything for one person as of an instant, saves it, whole or not at all, and returns it.

    home      whose gramrise.toml sets detect and estimate; the shipped settings without it
    as_shown  keep the factors and predictions as this night shows them
    raises    WrongUse for an unknown id; CouldNotRun when the inputs keep changing meanwhile
    """
    bring_up_to_date(store, person_id, now_utc, rules_of(home)(), as_shown)
    found = store.findings(person_id)
    assert found is not None  # it was just saved
    return found


def bring_up_to_date(store: Store, person_id: str, now_utc: datetime, rules: Rules, as_shown: bool = False) -> None:
    """As `run_person`; what was found stays in the store, and what stands from earlier nights is not even read."""
    for _ in range(TRIES):
        if _brought_up(store, person_id, now_utc, rules, as_shown):
            return
    raise CouldNotRun(
        f"the log of '{person_id}' kept changing while it was read",
        "let the other import end, then run this again",
        "inputs_changing",
    )


def _brought_up(store: Store, person_id: str, now_utc: datetime, rules: Rules, as_shown: bool) -> bool:
    """Whether the inputs stayed the same from reading to saving."""
    from gramrise.estimate.estimate import estimate_from
    from gramrise.estimate.treatment.measurement_cache import standing

    begins: list[datetime | None] = [None]

    def since(before: Before) -> datetime | None:
        begins.append(_reads_from(before, now_utc, rules))
        return begins[-1]

    inputs, version, before = store.inputs_to_find_from(person_id, since)
    detected = _detected(inputs, before, now_utc, rules)
    kept = None if before is None else before.kept
    stands = standing(inputs.person, inputs.doses, detected.screened, now_utc, rules.estimate, kept)
    begin, needed = begins[-1], stands.inputs_from_utc
    if begin is not None and needed < begin:
        inputs, whole_version, _ = store.inputs_to_find_from(person_id)
        if whole_version != version:
            return False
    estimated = estimate_from(stands, inputs, detected.lows, now_utc)
    found = Findings(
        as_of_utc=now_utc,
        lows=detected.lows,
        treatments=detected.treatments,
        pairings=estimated.pairings,
        factors=estimated.factors,
        predictions=estimated.predictions,
        courses=estimated.courses,
        log_next=estimated.log_next,
    )
    going_on = GoingOn(detected.screened, rules.basis, estimated.to_keep, before)
    return store.save_findings(person_id, found, detected.questions, version, as_shown, going_on)


def _changed_from(before: Before, now_utc: datetime, rules: Rules) -> datetime | None:
    """The earliest instant that changed; None: all is to be detected anew.

    That is so after a change of settings, of the person's facts (noted as a change from the beginning), or when the
    clock stands before the last time: then what looked over may not be.
    """
    changed = before.changed_from_utc or now_utc
    again = before.basis != rules.basis or before.as_of_utc > now_utc or changed <= BEGINNING_UTC
    return None if again else changed


def _reads_from(before: Before, now_utc: datetime, rules: Rules) -> datetime | None:
    from gramrise.detect.detection import reads_from
    from gramrise.estimate.treatment.measurement_cache import inputs_from

    changed = _changed_from(before, now_utc, rules)
    if changed is None:
        return None
    return min(reads_from(_known(before), changed), inputs_from(now_utc, rules.estimate.path))


def _detected(inputs: Inputs, before: Before | None, now_utc: datetime, rules: Rules) -> "Detected":
    """Lows and treatments, found anew from the earliest instant that changed where the rest still holds."""
    from gramrise.detect import detect
    from gramrise.detect.detection import detect_since

    changed = None if before is None else _changed_from(before, now_utc, rules)
    if before is None or changed is None:
        return detect(inputs, now_utc, rules.detect)
    return detect_since(inputs, changed, _known(before), now_utc, rules.detect)


def _known(before: Before) -> "Detected":
    from gramrise.detect import Detected

    return Detected(before.lows, before.treatments, before.screened)
