"""What to tell the team: lows that were deep, long, or without a written entry; those by night above all."""

from datetime import datetime

from gramrise.report.weekly.numbers.view import LowView


def dangers_of(low: LowView) -> tuple[str, ...]:
    """Why the team should hear of a low, codes in fixed order; none where a finger-stick showed another level."""
    if "finger_disagreed" in low.evidence:
        return ()
    found = (
        ("level_2", low.level >= 2),
        ("prolonged", low.prolonged),
        ("nothing_logged", low.nothing_logged),
        ("unnoticed", low.noticed_by == "nobody"),
    )
    return tuple(code for code, holds in found if holds)


def worth_telling(lows: tuple[LowView, ...]) -> tuple[LowView, ...]:
    """The lows that the team should hear of, the gravest first."""
    return tuple(sorted((low for low in lows if dangers_of(low)), key=_gravest_first))


def _gravest_first(low: LowView) -> tuple[bool, bool, int, bool, float, float, datetime]:
    """Deep or long ones first; more dangers then, the night counting as one; then by night, the lower, the longer.

    A low that may be called lying on the sensor comes after all others.
    """
    dangers, grave = len(dangers_of(low)) + low.by_night, low.level >= 2 or low.prolonged
    return low.lain_upon, not grave, -dangers, not low.by_night, low.nadir_mg_dl, -(low.minutes or 0.0), low.start_utc
