"""The clinic review of one person or of everybody: gathered from the store, made by the report, written to a folder."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from gramrise.config.private_files import private_folder, write_whole
from gramrise.config.settings import load
from gramrise.detect import DetectSettings
from gramrise.domain.findings import Findings
from gramrise.domain.person import Person
from gramrise.domain.problems import GramriseError
from gramrise.domain.references import EndedBy, SignedReference
from gramrise.estimate import EstimateSettings, drift_of, estimate_settings, level_course
from gramrise.nightly.cards import cards_out
from gramrise.nightly.current import current_findings
from gramrise.nightly.drifting import signed_points
from gramrise.nightly.signing import references_with_ends
from gramrise.report import (
    Panel,
    PersonReview,
    ReportSettings,
    ReviewKnown,
    ReviewSettings,
    drift_lines,
    fhir_bundle,
    panel_files,
    panel_line,
    panel_of,
    person_files,
    person_review,
    sign_offs,
)
from gramrise.store import Store

ENGLISH = "en"
Signed = Sequence[tuple[SignedReference, tuple[EndedBy, ...]]]


@dataclass(frozen=True, slots=True)
class ReviewRules:
    """Settings of a home that the review is made by, read once for everybody."""

    review: ReviewSettings
    report: ReportSettings
    detect: DetectSettings


def review_rules(home: Path | None) -> ReviewRules:
    return ReviewRules(
        load("review", ReviewSettings, home), load("report", ReportSettings, home), load("detect", DetectSettings, home)
    )


def clinic_language(people: Sequence[Person]) -> str:
    """The language of everybody where they share one, else English: a clinic reads all families in one."""
    spoken = {person.language for person in people}
    return spoken.pop() if len(spoken) == 1 else ENGLISH


def review_of(
    store: Store, person_id: str, now_utc: datetime, home: Path | None, language: str, rules: ReviewRules
) -> PersonReview:
    """Everything the clinic sees of one person. Findings are brought up to date first. Raises WrongUse, CouldNotRun."""
    found = current_findings(store, person_id, now_utc, home)
    inputs = store.inputs(person_id)
    estimating = estimate_settings(home)
    signed = references_with_ends(store, inputs.person, now_utc)
    known = ReviewKnown(
        shown=store.shown(person_id)[0],
        sign_offs=sign_offs(signed),
        drift=drift_lines(inputs.person, _drift(inputs.person, found, signed, now_utc, estimating)),
        levels=level_course(inputs.person, found, estimating),
        cards=cards_out(store, inputs.person, now_utc),
        questions=tuple(asked.question for asked in store.questions(person_id)),
        settings=rules.review,
        report=rules.report,
        detect=rules.detect,
        states=estimating.state,
    )
    return person_review(inputs, found, now_utc, known).model_copy(update={"language": language})


def _drift(
    person: Person, found: Findings, signed: Signed, now_utc: datetime, settings: EstimateSettings
) -> pl.DataFrame:
    """DRIFT since the latest sign-off that was accepted and not withdrawn."""
    return drift_of(person, found.pairings, signed_points(person, (one for one, _ in signed)), now_utc, settings)


def reviews_of(
    store: Store,
    people: Sequence[Person],
    now_utc: datetime,
    home: Path | None,
    language: str,
    take: Callable[[PersonReview], None],
) -> Panel:
    """The panel of these people. Each review is handed to `take` and then let go: memory is bounded by one person.

    One person's failure never stops the others: who could not be reviewed is named on the panel.
    """
    rules = review_rules(home)
    lines, could_not = [], []
    for person in people:
        try:
            review = review_of(store, person.person_id, now_utc, home, language, rules)
        except GramriseError:
            could_not.append(person.person_id)
            continue
        take(review)
        lines.append(panel_line(review, rules.review))
    return panel_of(
        lines,
        language=language,
        written_at_utc=now_utc,
        settings=rules.review,
        could_not=could_not,
    )


def bundle_of(store: Store, person_id: str, now_utc: datetime, home: Path | None, days: int) -> str:
    """What was logged and found for a person in the last days of data, as a FHIR R4 bundle."""
    found = current_findings(store, person_id, now_utc, home)
    inputs = store.inputs(person_id)
    signed = references_with_ends(store, inputs.person, now_utc)
    drift = _drift(inputs.person, found, signed, now_utc, estimate_settings(home))
    mark = store.runs.home_mark()
    return fhir_bundle(inputs, found, household=mark, now_utc=now_utc, days=days, signed=signed, drift=drift)


def write_files(folder: Path, files: Iterable[tuple[str, str | bytes]]) -> list[Path]:
    """Writes each file whole, readable by its owner only, and returns their paths."""
    private_folder(folder)
    written = []
    for name, content in files:
        path = folder / name
        write_whole(path, content if isinstance(content, bytes) else content.encode("utf-8"), synced=False)
        written.append(path)
    return written


def write_review(
    store: Store,
    people: Sequence[Person],
    now_utc: datetime,
    home: Path | None,
    folder: Path,
    language: str | None = None,
    also: Callable[[PersonReview], None] | None = None,
) -> tuple[Path, Panel]:
    """The review as a folder that opens without a server; (its first page, the panel).

    language  "en" or "de"; None: that of the families where they share one
    also      what else is done with each review
    """
    spoken = language or clinic_language(people)

    def take(review: PersonReview) -> None:
        write_files(folder, person_files(review))
        if also is not None:
            also(review)

    panel = reviews_of(store, people, now_utc, home, spoken, take)
    return write_files(folder, panel_files(panel))[0], panel
