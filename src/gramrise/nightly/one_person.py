"""One person's findings, brought up to date: inputs, lows and treatments, factors, saved as one."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gramrise.config.settings import load
from gramrise.domain.findings import Findings
from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store

if TYPE_CHECKING:
    from gramrise.detect import DetectSettings
    from gramrise.domain.questions import Question
    from gramrise.estimate import EstimateSettings
    from gramrise.store import ToFindFrom

# Our choice: inputs that change under the computation this often in a row mean another program writes without rest.
TRIES: Final = 3


@dataclass(frozen=True, slots=True)
class Rules:
    """Settings of detect and estimate."""

    detect: "DetectSettings"
    estimate: "EstimateSettings"


def rules_of(home: Path | None) -> Callable[[], Rules]:
    """The rules of a home, read when first asked for and then kept. Raises WrongUse when asked, not before."""

    @cache
    def rules() -> Rules:
        from gramrise.detect import DetectSettings
        from gramrise.estimate import estimate_settings

        return Rules(load("detect", DetectSettings, home), estimate_settings(home))

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
    """As `run_person`, but what was found stays in the store.

    What an earlier night computed from the same inputs is remembered there and used again; the rest is computed.
    """
    for _ in range(TRIES):
        if _brought_up(store, person_id, now_utc, rules, as_shown):
            return
    raise CouldNotRun(
        f"the log of '{person_id}' kept changing while it was read",
        "let the other import end, then run this again",
        "inputs_changing",
    )


def findings_as_of(store: Store, person_id: str, as_of_utc: datetime, home: Path | None = None) -> Findings:
    """The findings of a past instant by today's model, from nothing that came after it; nothing is saved.

    raises  WrongUse for an unknown id
    """
    with store.to_find_from(person_id) as known:
        found, _ = _found_from(known, as_of_utc, rules_of(home)())
    return found


def _brought_up(store: Store, person_id: str, now_utc: datetime, rules: Rules, as_shown: bool) -> bool:
    """Whether the inputs stayed the same from reading to saving."""
    with store.to_find_from(person_id) as known:
        found, questions = _found_from(known, now_utc, rules)
        memo, version = known.memo, known.version
    return store.save_findings(person_id, found, questions, version, as_shown, memo)


def _found_from(known: "ToFindFrom", as_of_utc: datetime, rules: Rules) -> "tuple[Findings, tuple[Question, ...]]":
    from gramrise.detect import detect_in_chunks
    from gramrise.estimate import estimate

    memo, readings = known.memo, known.readings
    detected = detect_in_chunks(known.inputs, readings, as_of_utc, memo, rules.detect)
    lows, screened = detected.lows, detected.screened
    estimated = estimate(known.inputs, screened, lows, as_of_utc, rules.estimate, readings, memo)
    found = Findings(
        as_of_utc=as_of_utc,
        lows=lows,
        treatments=detected.treatments,
        pairings=estimated.pairings,
        factors=estimated.factors,
        predictions=estimated.predictions,
        courses=estimated.courses,
        unnoticed_low_utc=estimated.unnoticed_low_utc,
        log_next=estimated.log_next,
    )
    return found, detected.questions
