"""Sign-offs as they are shown: what was recorded, and what has ended each."""

from collections.abc import Iterable, Sequence

from gramrise.domain.references import SignedReference
from gramrise.report.review.numbers.view import PlanAmount, SetAside, SignedBand, SignOff, SourceStrength

WITHDRAWN = "withdrawn"


def sign_offs(found: Iterable[tuple[SignedReference, Sequence[str]]]) -> tuple[SignOff, ...]:
    """(reference, what has ended it) as views, in their order."""
    return tuple(_view(reference, tuple(ended)) for reference, ended in found)


def standing(signed: Sequence[SignOff]) -> SignOff | None:
    """The reference: the latest sign-off that was accepted and never withdrawn. One that ended stays the reference."""
    return next((one for one in signed if one.accepted and WITHDRAWN not in one.holds_not), None)


def _view(reference: SignedReference, ended: tuple[str, ...]) -> SignOff:
    return SignOff(
        number=reference.number,
        signed_at_utc=reference.signed_at_utc,
        signed_by=reference.signed_by,
        role=reference.role,
        accepted=reference.accepted,
        as_of=reference.as_of,
        bands=tuple(
            SignedBand(
                band=band.band,
                hours=band.hours,
                factor_mg_dl_per_g=band.factor_mg_dl_per_g,
                p05_mg_dl_per_g=band.p05_factor_mg_dl_per_g,
                p95_mg_dl_per_g=band.p95_factor_mg_dl_per_g,
                weight_adjusted_mg_dl_kg_per_g=band.weight_adjusted_mg_dl_kg_per_g,
                pairings_used=band.pairings_used,
                state=band.state,
            )
            for band in reference.bands
        ),
        weight_kg=reference.weight_kg,
        weighed_on=reference.weighed_on,
        delivery=reference.delivery,
        settings=reference.settings,
        sources=tuple(
            SourceStrength(name=each.name, grams_per_unit=each.grams_per_unit, unit=each.unit)
            for each in reference.sources
        ),
        data_from=reference.data_from,
        data_to=reference.data_to,
        set_aside=tuple(SetAside(reason=code, count=count) for code, count in sorted(reference.set_aside.items())),
        plan_version=reference.plan_version,
        plan_amounts=tuple(PlanAmount(name=name, grams=grams) for name, grams in reference.plan_amounts.items()),
        valid_until=reference.valid_until,
        cards_superseded=reference.cards_superseded,
        told=reference.told,
        note=reference.note,
        model_version=reference.model_version,
        holds_not=ended,
    )
