"""The panel: one line a person, danger first, then those whose number moved, then the rest."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from gramrise.report.review.numbers.view import DriftLine, Panel, PanelLine, PersonReview
from gramrise.report.review.settings import ReviewSettings


def panel_of(
    lines: Iterable[PanelLine],
    *,
    language: str,
    written_at_utc: datetime,
    expected_false: float | None,
    settings: ReviewSettings,
    could_not: Sequence[str] = (),
) -> Panel:
    """The lines in their order.

    expected_false  expected share of false alarms among the bands that are listed as moved
    could_not       ids of persons whose findings could not be made
    """
    return Panel(
        language=language,
        written_at_utc=written_at_utc,
        danger_days=settings.danger_days,
        lines=tuple(sorted(lines, key=_rank)),
        expected_false=expected_false,
        could_not=tuple(could_not),
    )


def line_of(review: PersonReview, settings: ReviewSettings) -> PanelLine:
    """The panel's line of a person's review."""
    drift = tuple(sorted(review.drift, key=_most_probable_first))
    silent = None
    if review.last_reading_utc is not None:
        days = (review.written_at_utc - review.last_reading_utc).days
        silent = days if days >= settings.silent_days else None
    return PanelLine(
        person_id=review.person_id,
        name=review.name,
        age_years=review.age_years,
        dangers=review.dangers,
        drift=drift,
        moved=any(line.listed for line in drift),
        signed_on=review.signed.as_of if review.signed else None,
        holds_not=review.signed.holds_not if review.signed else (),
        pairings_n=sum(one.verdict == "used" for one in review.pairings),
        last_reading_utc=review.last_reading_utc,
        silent_days=silent,
        unit=review.unit,
        zone=review.zone,
    )


def _most_probable_first(line: DriftLine) -> tuple[bool, float, str]:
    return not line.listed, -line.probability_moved, line.band


def _rank(line: PanelLine) -> tuple[bool, tuple[int, ...], bool, float, str]:
    most = max((each.probability_moved for each in line.drift), default=0.0)
    return not line.dangers.any, tuple(-n for n in line.dangers.gravest), not line.moved, -most, line.person_id
