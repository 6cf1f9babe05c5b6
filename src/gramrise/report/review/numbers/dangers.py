"""Lows that a team should hear of: what makes one dangerous, and how many there were."""

from datetime import date

from gramrise.report.review.numbers.span import Span
from gramrise.report.review.numbers.view import Dangers
from gramrise.report.weekly.numbers.team import dangers_of
from gramrise.report.weekly.numbers.view import LowView

SEVERE = "severe"
NOT_BY_THE_CHILD = "unnoticed"


def codes_of(low: LowView) -> tuple[str, ...]:
    """Why a low is dangerous, the gravest reason first; none where a finger-stick showed another level.

    severe  glucagon is in the log: the only sign of help from others that a log shows
    """
    if "finger_disagreed" in low.evidence:
        return ()
    found = [SEVERE] if "glucagon_logged" in low.evidence else []
    found += [code for code in dangers_of(low) if code != "nothing_logged" or low.by_night]
    return tuple(found + ([NOT_BY_THE_CHILD] if low.noticed_by in {"sensor", "adult"} else []))


def dangers_in(span: Span) -> Dangers:
    """The counts of a span. A low that may be called lying on the sensor counts as no danger."""
    real = [(low, codes_of(low)) for low in span.lows if not low.lain_upon]
    nights: set[date] = {span.day(low.start_utc) for low, codes in real if "nothing_logged" in codes}

    def count(code: str) -> int:
        return sum(code in codes for _, codes in real)

    return Dangers(
        days=(span.to_on - span.from_on).days + 1,
        severe_n=count(SEVERE),
        level_2_n=count("level_2"),
        prolonged_n=count("prolonged"),
        unlogged_nights_n=len(nights),
        unnoticed_n=count(NOT_BY_THE_CHILD),
        told_who_n=sum(low.noticed_by is not None for low in span.lows),
        lows_n=len(span.lows),
        lows_by_night_n=sum(low.by_night for low in span.lows),
    )


def gravest_first(lows: tuple[LowView, ...]) -> tuple[LowView, ...]:
    """The dangerous ones: severe before all others, then by how many dangers, by night, and how deep."""
    dangerous = [low for low in lows if codes_of(low)]
    return tuple(sorted(dangerous, key=_rank))


def _rank(low: LowView) -> tuple[bool, bool, int, bool, float, float]:
    codes = codes_of(low)
    at = low.start_utc.timestamp()
    return low.lain_upon, SEVERE not in codes, -len(codes) - low.by_night, not low.by_night, low.nadir_mg_dl, -at
