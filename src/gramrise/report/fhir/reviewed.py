"""What a clinician signed, and how the number moved since: drift stands on both the signed and the present number."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, Final

import polars as pl

from gramrise.domain.references import SignedBand, SignedReference
from gramrise.report.fhir.elements import (
    PER_GRAM,
    PER_GRAM_WORDS,
    Resource,
    component,
    interval,
    issued,
    narrative,
    quantity,
    rounded,
)
from gramrise.report.fhir.found import NO_LABORATORY, factor_name, no_value
from gramrise.report.fhir.logged import Named
from gramrise.report.fhir.sender import Sender
from gramrise.report.fhir.vocabulary import coded

WITHDRAWN: Final = "withdrawn"
NO_AUTHENTICATION: Final = "The name was typed and is no authentication."
ACCEPTED: Final = {True: "accepted", False: "seen, not accepted"}

Signed = Sequence[tuple[SignedReference, Sequence[str]]]  # each with what has ended it


def signed_name(sender: Sender, number: int, band: str) -> str:
    return sender.named("signed", number, band)


def signed_records(signed: Signed, sender: Sender) -> Iterator[Named]:
    """(name, Observation) of each band of each sign-off: final where it was accepted, in error where taken back."""
    for reference, ended in signed:
        for band in reference.bands:
            yield signed_name(sender, reference.number, band.band), _signed(reference, band, ended, sender)


def _signed(reference: SignedReference, band: SignedBand, ended: Sequence[str], sender: Sender) -> Resource:
    status = "final" if reference.accepted else "preliminary"
    by = f"{reference.signed_by} ({reference.role})" if reference.role else reference.signed_by
    number = band.factor_mg_dl_per_g
    value = no_value("no body weight was known") if number is None else _per_gram(number)
    notes = [NO_LABORATORY, NO_AUTHENTICATION, *([reference.note] if reference.note else [])]
    if ended:
        notes.append(f"It no longer holds: {', '.join(ended)}.")
    return {
        "resourceType": "Observation",
        "text": narrative(f"Signed number, {band.band} {band.hours}: {ACCEPTED[reference.accepted]} by {by}."),
        "status": "entered-in-error" if WITHDRAWN in ended else status,
        "category": [coded("rise-factor")],
        "code": coded("rise-factor"),
        **sender.about,
        "effectivePeriod": _days(reference.data_from or reference.as_of, reference.as_of),
        "issued": issued(reference.signed_at_utc),
        "performer": [{"display": by}],
        **value,
        "note": [{"text": note} for note in notes],
        **sender.by_software,
        "component": _parts(reference, band, sender),
    }


def _parts(reference: SignedReference, band: SignedBand, sender: Sender) -> list[dict[str, Any]]:
    hours = f"{band.band} {band.hours} {sender.zone.key}"
    low, high = band.p05_factor_mg_dl_per_g, band.p95_factor_mg_dl_per_g
    parts = [component("time-band", valueCodeableConcept={"text": hours})]
    if low is not None and high is not None:
        parts.append(interval(low, high, PER_GRAM, PER_GRAM_WORDS))
    parts.append(component("treatment-count", valueInteger=band.pairings_used))
    if reference.weight_kg is not None:
        parts.append(component("body-weight-used", valueQuantity=quantity(rounded(reference.weight_kg), "kg")))
    return [
        *parts,
        component("estimate-state", valueCodeableConcept={"text": band.state}),
        component("sign-off", valueCodeableConcept={"text": ACCEPTED[reference.accepted]}),
        component("reference-date", valueDateTime=reference.as_of.isoformat()),
        component("reference-valid-until", valueDateTime=reference.valid_until.isoformat()),
    ]


def drift_records(drift: pl.DataFrame, signed: Signed, factors: pl.DataFrame, sender: Sender) -> Iterator[Named]:
    """(name, Observation) of each band's drift. Its ratio is null where no body weight is known.

    drift    DRIFT of the person
    factors  FACTORS of the same instant
    """
    present = {row["band"]: factor_name(sender, row) for row in factors.iter_rows(named=True)}
    for row in drift.iter_rows(named=True):
        number = next(
            (one.number for one, ended in signed if one.accepted and one.as_of == row["reference_date"] and
             WITHDRAWN not in ended), None)  # fmt: skip
        if number is None or row["band"] not in present:
            continue
        name = sender.named("drift", row["band"], number, row["as_of_utc"].astimezone(sender.zone).date())
        yield name, _drift(row, [signed_name(sender, number, row["band"]), present[row["band"]]], sender)


def _drift(row: dict[str, Any], rests_on: list[str], sender: Sender) -> Resource:
    as_of = row["as_of_utc"].astimezone(sender.zone).date()
    value = no_value("no body weight is known") if row["ratio"] is None else {"valueQuantity": _ratio(row["ratio"])}
    parts = [component("time-band", valueCodeableConcept={"text": row["band"]})]
    if row["ratio_p05"] is not None and row["ratio_p95"] is not None:
        parts.append(interval(row["ratio_p05"], row["ratio_p95"], "1"))
    if row["growth_ratio"] is not None:
        parts.append(component("growth-ratio", valueQuantity=_ratio(row["growth_ratio"])))
    parts += [
        component(
            "probability-moved", valueQuantity=quantity(rounded(row["probability_moved"], 3), "1", "probability")
        ),
        component("reference-date", valueDateTime=row["reference_date"].isoformat()),
        component("treatment-count", valueInteger=row["pairings_since"]),
    ]
    return {
        "resourceType": "Observation",
        "text": narrative(
            f"Change of the number of {row['band']} since it was signed: {row['finding']}. No cause is named."
        ),
        "status": "preliminary",
        "category": [coded("drift")],
        "code": coded("drift"),
        **sender.about,
        "effectivePeriod": _days(row["reference_date"], as_of),
        "issued": issued(sender.now_utc),
        **value,
        "note": [{"text": NO_LABORATORY}],
        **sender.by_software,
        "derivedFrom": [{"reference": name} for name in rests_on],
        "component": parts,
    }


def _per_gram(mg_dl_per_g: float) -> dict[str, Any]:
    return {"valueQuantity": quantity(rounded(mg_dl_per_g), PER_GRAM, PER_GRAM_WORDS)}


def _ratio(value: float) -> dict[str, Any]:
    return quantity(rounded(value, 3), "1")


def _days(first: date, last: date) -> dict[str, str]:
    return {"start": min(first, last).isoformat(), "end": last.isoformat()}
