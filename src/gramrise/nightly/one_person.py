"""One person's findings, brought up to date: inputs, lows and treatments, factors, saved as one."""

from datetime import datetime
from pathlib import Path

from gramrise.config.settings import load
from gramrise.domain.findings import Findings
from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store

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
    from gramrise.detect import DetectSettings, detect
    from gramrise.estimate import EstimateSettings, estimate

    for _ in range(TRIES):
        inputs, version = store.inputs_and_version(person_id)
        detected = detect(inputs, now_utc, load("detect", DetectSettings, home))
        estimated = estimate(
            inputs, detected.screened, detected.lows, now_utc, load("estimate", EstimateSettings, home)
        )
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
        if store.save_findings(person_id, found, detected.questions, version, as_shown):
            return found
    raise CouldNotRun(
        f"the log of '{person_id}' kept changing while it was read",
        "let the other import end, then run this again",
        "inputs_changing",
    )
