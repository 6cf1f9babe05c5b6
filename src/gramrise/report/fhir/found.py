"""What was found: lows, and what 1 g of glucose raises in each band, with what each rests on."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any, Final

import polars as pl

from gramrise.connectors.fhir import ABSENT_REASONS
from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.outcomes import OUTCOMES
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
from gramrise.report.fhir.logged import Named, dose_name, reading_name
from gramrise.report.fhir.sender import Sender
from gramrise.report.fhir.vocabulary import coded

# The consensus bound of a low, mg/dL.
LOW_BELOW: Final = 70
INTERPRETATION: Final = "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation"
METHOD: Final = (
    "posterior median of the peak causal rise per gram of a reference amount of 0.15 g/kg, treatments measured against "
    "an estimated untreated path and pooled toward a weight-based starting value"
)
NO_LABORATORY: Final = (
    "Computed from home sensor data and a log kept at home. No laboratory result, and no instruction how much to give. "
    "It rests on this: times and grams are right, nothing else was eaten, insulin as logged, delivery as it ran."
)


def low_records(lows: pl.DataFrame, inputs: Inputs, sender: Sender) -> Iterator[Named]:
    """(name, Observation) of each low; it stands on its readings, and beside the glucose given for it."""
    for row in lows.iter_rows(named=True):
        start, end = row["start_utc"], row["end_utc"]
        during = _within(inputs.readings, "at_utc", start, end or row["nadir_at_utc"])
        if end:  # the reading that ends a low is not of it
            during = during.filter(pl.col("at_utc") < end)
        given = _doses_of(row, inputs.doses)
        lowest = quantity(row["nadir_mg_dl"], "mg/dL", comparator="<" if row["below_range"] else "")
        parts = [
            component("lowest-reading", valueQuantity=lowest),
            component("threshold", valueQuantity=quantity(LOW_BELOW, "mg/dL")),
            component("episode-outcome", valueCodeableConcept={"text": OUTCOMES[row["outcome"]].clinic}),
        ]
        if row["grams"] is not None:
            parts.append(component("treatment-grams", valueQuantity=quantity(round(row["grams"], 3), "g")))
        record: Resource = {
            "resourceType": "Observation",
            "text": narrative(_low_sentence(row, sender)),
            "status": "preliminary",
            "code": coded("low-episode"),
            **sender.about,
            "effectivePeriod": {"start": sender.when(start), **({"end": sender.when(end)} if end else {})},
            "issued": issued(sender.now_utc),
            "interpretation": [{"coding": [{"system": INTERPRETATION, "code": "L", "display": "Low"}]}],
            **sender.by_software,
            "component": parts,
        }
        if given:
            record["partOf"] = [{"reference": dose_name(sender, dose)} for dose in given]
        if during.height:
            record["derivedFrom"] = [{"reference": reading_name(sender, at)} for at in during["at_utc"].to_list()]
        yield sender.named("low", start), record


def _doses_of(low: dict[str, Any], doses: pl.DataFrame) -> list[dict[str, Any]]:
    """What was logged from the first glucose of a low to its end."""
    first, end = low["first_dose_utc"], low["end_utc"]
    if first is None:
        return []
    last = first if end is None else max(end, first)
    return _within(doses, "taken_at_utc", first, last).to_dicts()


def _low_sentence(low: dict[str, Any], sender: Sender) -> str:
    zone, end = sender.zone, low["end_utc"]
    start = low["start_utc"].astimezone(zone)
    until = f" to {end.astimezone(zone):%H:%M}" if end else ", its end not seen"
    lowest = f"below {low['nadir_mg_dl']:g}" if low["below_range"] else f"{low['nadir_mg_dl']:g}"
    return (
        f"Sensor glucose below {LOW_BELOW} mg/dL from {start:%Y-%m-%d %H:%M}{until}, level {low['level']}, lowest "
        f"{lowest} mg/dL. {OUTCOMES[low['outcome']].clinic} Found by software."
    )


def band_text(band: str, bands: tuple[TimeBand, ...], sender: Sender) -> str:
    """A band with its hours and their clock."""
    hours = next((each.hours for each in bands if each.name == band), "")
    return f"{band} {hours} {sender.zone.key}".replace("  ", " ")


def factor_name(sender: Sender, row: dict[str, Any]) -> str:
    """One record a band and day: what is found again on a day is the same record."""
    day = row["as_of_utc"].astimezone(sender.zone).date()
    return sender.named("rise factor", row["band"], day)


def factor_records(findings: Findings, bands: tuple[TimeBand, ...], sender: Sender) -> Iterator[Named]:
    """(name, Observation) of each band's number; none is given as a value where no amount could be."""
    for row in findings.factors.iter_rows(named=True):
        used = findings.pairings.filter(pl.col("verdict") == "used", pl.col("band") == row["band"])
        known = row["factor_mg_dl_per_g"] is not None
        record: Resource = {
            "resourceType": "Observation",
            "text": narrative(_factor_sentence(row, bands, sender)),
            "status": "preliminary",
            "category": [coded("rise-factor")],
            "code": coded("rise-factor"),
            **sender.about,
            "effectivePeriod": _days(used, row["as_of_utc"], sender),
            "issued": issued(sender.now_utc),
            **(_value(row["factor_mg_dl_per_g"]) if known else no_value("no body weight is known")),
            "note": [{"text": NO_LABORATORY}],
            "method": {"text": METHOD},
            **sender.by_software,
            "component": factor_parts(row, bands, sender),
        }
        yield factor_name(sender, row), record


def _value(mg_dl_per_g: float) -> dict[str, Any]:
    return {"valueQuantity": quantity(rounded(mg_dl_per_g), PER_GRAM, PER_GRAM_WORDS)}


def no_value(why: str) -> dict[str, Any]:
    return {"dataAbsentReason": {"coding": [{"system": ABSENT_REASONS, "code": "not-performed"}], "text": why}}


def factor_parts(row: dict[str, Any], bands: tuple[TimeBand, ...], sender: Sender) -> list[dict[str, Any]]:
    """Band, 90 % interval, starting value, weight, number of treatments and state, as far as they are known."""
    parts = [component("time-band", valueCodeableConcept={"text": band_text(row["band"], bands, sender)})]
    low, high = row["p05_factor_mg_dl_per_g"], row["p95_factor_mg_dl_per_g"]
    if low is not None and high is not None:
        parts.append(interval(low, high, PER_GRAM, PER_GRAM_WORDS))
    parts.append(component("treatment-count", valueInteger=row["pairings_used"]))
    if row.get("starting_mg_dl_per_g") is not None:
        start = quantity(rounded(row["starting_mg_dl_per_g"]), PER_GRAM, PER_GRAM_WORDS)
        parts.append(component("starting-value", valueQuantity=start))
    if row.get("weight_kg") is not None:
        parts.append(component("body-weight-used", valueQuantity=quantity(rounded(row["weight_kg"]), "kg")))
    parts.append(component("estimate-state", valueCodeableConcept={"text": row["state"]}))
    return parts


def _factor_sentence(row: dict[str, Any], bands: tuple[TimeBand, ...], sender: Sender) -> str:
    band = band_text(row["band"], bands, sender)
    if row["factor_mg_dl_per_g"] is None:
        return f"No estimate for {band}: no body weight is known."
    told = [
        rounded(row[name], 3) for name in ("factor_mg_dl_per_g", "p05_factor_mg_dl_per_g", "p95_factor_mg_dl_per_g")
    ]
    return (
        f"Computed: 1 g of glucose raises about {told[0]:g} mg/dL, {band}, 90 % interval {told[1]:g} to {told[2]:g}, "
        f"from {row['pairings_used']} treatments. Not reviewed by a clinician."
    )


def _days(used: pl.DataFrame, as_of_utc: datetime, sender: Sender) -> dict[str, str]:
    """The days of data behind a number: from the first used treatment to the day for which it holds."""
    last = _day(as_of_utc, sender)
    first = used["first_dose_utc"].min()
    return {
        "start": (_day(first, sender) if isinstance(first, datetime) else last).isoformat(),
        "end": last.isoformat(),
    }


def _day(at_utc: datetime, sender: Sender) -> date:
    return at_utc.astimezone(sender.zone).date()


def provenance_records(findings: Findings, inputs: Inputs, sender: Sender) -> Iterator[Named]:
    """(name, Provenance) of each band's number: the glucose given whose rise was used for it, and what computed it."""
    for row in findings.factors.iter_rows(named=True):
        used = findings.pairings.filter(pl.col("verdict") == "used", pl.col("band") == row["band"])
        given = doses_of_treatments(inputs.doses, used)
        if not given:
            continue
        name = factor_name(sender, row)
        own = sender.named("provenance", name)
        yield (
            own,
            {
                "resourceType": "Provenance",
                "id": own.removeprefix("urn:uuid:"),
                "target": [{"reference": name}],
                "recorded": issued(sender.now_utc),
                "agent": [{"type": {"text": "computed by"}, "who": {"reference": sender.device_name}}],
                "entity": [{"role": "source", "what": {"reference": dose_name(sender, dose)}} for dose in given],
            },
        )


def doses_of_treatments(doses: pl.DataFrame, treatments: pl.DataFrame) -> list[dict[str, Any]]:
    """The doses that some treatments are made of, by time."""
    spans = treatments.select("first_dose_utc", "last_dose_utc").rows()
    return [dose for dose in doses.to_dicts() if any(a <= dose["taken_at_utc"] <= b for a, b in spans)]


def _within(frame: pl.DataFrame, column: str, from_utc: datetime, to_utc: datetime) -> pl.DataFrame:
    return frame.filter(pl.col(column) >= from_utc, pl.col(column) <= to_utc)
