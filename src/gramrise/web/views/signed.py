"""Sign-offs in words, the latest first."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.domain.references import EndedBy, SignedBand, SignedReference
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class SignedLine:
    """One sign-off. `standing`: it was not withdrawn."""

    number: int
    words: str
    bands: tuple[str, ...]
    holds: str
    standing: bool


def signed_lines(
    visit: "Visit", found: "Sequence[tuple[SignedReference, tuple[EndedBy, ...]]]"
) -> tuple[SignedLine, ...]:
    """Every sign-off with its numbers and whether it holds."""
    return tuple(_line(visit, one, ended) for one, ended in found)


def _line(visit: "Visit", one: "SignedReference", ended: "tuple[EndedBy, ...]") -> SignedLine:
    day = visit.words.day
    said = visit.say(f"signing.{one.verdict}")
    by = one.signed_by + (f", {one.role}" if one.role else "")
    words = visit.say("signing.line", number=one.number, said=said, by=by, day=day(one.as_of))
    if ended:
        why = "; ".join(visit.say(f"signing.ended.{code}") for code in ended)
        holds = visit.say("signing.holds_not", why=why)
    else:
        holds = visit.say("signing.holds", until=day(one.valid_until))
    return SignedLine(
        one.number, words, tuple(_band(visit, each) for each in one.bands), holds, one.withdrawn_on is None
    )


def _band(visit: "Visit", band: "SignedBand") -> str:
    named = visit.words.band_and_hours(band.band, band.hours)
    middle, low, high = band.factor_mg_dl_per_g, band.p05_factor_mg_dl_per_g, band.p95_factor_mg_dl_per_g
    if middle is None or low is None or high is None:
        return visit.say("signing.no_number", band=named)
    told = visit.words.factor(middle, low, high)
    return visit.say("signing.band", band=named, middle=told[0], low=told[1], high=told[2], used=band.pairings_used)
