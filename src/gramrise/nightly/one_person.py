"""One person's findings, brought up to date: inputs, lows and treatments, factors, saved as one."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from gramrise.config.settings import load
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store
from gramrise.store.found import Before
from gramrise.store.moments import instant
from gramrise.store.store import BEGINNING

if TYPE_CHECKING:
    from gramrise.detect import Detected

BEGINNING_UTC = instant(BEGINNING)

# Our choice: inputs that change under the computation this often in a row mean another program writes without rest.
TRIES = 3


def run_person(
    store: Store, person_id: str, now_utc: datetime, home: Path | None = None, as_shown: bool = False
) -> Findings:
    """Finds everything for one person as of an instant and saves it, whole or not at all.

    home      whose gramrise.toml sets detect and estimate; the shipped settings without it
    as_shown  keep the factors and predictions as this night shows them
    raises    WrongUse for an unknown id; CouldNotRun when the inputs keep changing meanwhile
    """
    from gramrise.estimate import estimate
    from gramrise.estimate.settings import estimate_settings

    settings = estimate_settings(home)
    for _ in range(TRIES):
        inputs, version, before = store.inputs_to_find_from(person_id)
        detected, basis = _detected(inputs, before, now_utc, home)
        estimated = estimate(inputs, detected.screened, detected.lows, now_utc, settings)
        found = Findings(
            as_of_utc=now_utc,
            lows=detected.lows,
            treatments=detected.treatments,
            pairings=estimated.pairings,
            paths=estimated.paths,
            factors=estimated.factors,
            predictions=estimated.predictions,
            log_next=estimated.log_next,
        )
        if store.save_findings(
            person_id, found, detected.questions, version, as_shown, screened=detected.screened, basis=basis
        ):
            return found
    raise CouldNotRun(
        f"the log of '{person_id}' kept changing while it was read",
        "let the other import end, then run this again",
        "inputs_changing",
    )


def _detected(inputs: Inputs, before: Before | None, now_utc: datetime, home: Path | None) -> "tuple[Detected, str]":
    """Lows and treatments, found anew from the earliest instant that changed where the rest still holds; the basis.

    All is found anew after a change of settings, of the model, of the person's facts (noted as a change from the
    beginning), or when the clock stands before the last time: then what looked over may not be.
    """
    from gramrise.detect import Detected, DetectSettings, detect
    from gramrise.detect.detection import detect_since

    settings = load("detect", DetectSettings, home)
    basis = settings.model_dump_json()
    if before is None or before.basis != basis or before.as_of_utc > now_utc:
        return detect(inputs, now_utc, settings), basis
    changed = before.changed_from_utc or now_utc
    if changed <= BEGINNING_UTC:
        return detect(inputs, now_utc, settings), basis
    known = Detected(before.lows, before.treatments, before.screened)
    return detect_since(inputs, changed, known, now_utc, settings), basis
