"""SampledData: a series of sensor values at equal steps, as numbers, E (error), L (below) and U (above the limits)."""

import re
from datetime import timedelta
from decimal import Decimal
from typing import Final

from gramrise.connectors.fhir.effective import span
from gramrise.connectors.fhir.elements import Observation, SampledData
from gramrise.connectors.fhir.quantities import checked_bound, mg_dl_per_unit, unit_of
from gramrise.connectors.standards import Fact, Hold, Instant, Kind
from gramrise.domain.words import Range

# Milliseconds between samples of a glucose sensor. Source: sanity rule of our notes on open health standards.
LEAST_PERIOD_MS: Final = 10_000
MOST_PERIOD_MS: Final = 3_600_000
_NUMBER: Final = re.compile(r"-?\d{1,12}(\.\d{1,12})?([eE][+-]?\d{1,2})?", re.ASCII)
_NO_VALUE: Final = "E"


def sampled_facts(record: Observation, data: SampledData, kind: Kind, code_unit: str, flags: list[str]) -> list[Fact]:
    """A fact for each sample that holds a value or lies beyond a limit; value = origin + factor x datum.

    A sample sits at the start of its step.
    """
    step = _step(data)
    start = _start(record)
    unit = unit_of(data.origin, flags)
    scale = mg_dl_per_unit(unit)
    if code_unit and scale != mg_dl_per_unit(code_unit):
        raise Hold("unit_code_mismatch", "valueSampledData.origin", unit)
    if data.origin.value is None or data.origin.comparator is not None:
        raise Hold("samples_broken", "valueSampledData.origin")
    if data.dimensions != 1:
        raise Hold("samples_broken", "valueSampledData.dimensions", data.dimensions)
    samples = (data.data or "").split(" ") if data.data else []
    _check_fits(record, len(samples), step)
    return [
        fact
        for at, sample in enumerate(samples)
        if (fact := _fact(sample, Instant(start.utc + at * step, start.offset_minutes), data, kind, scale)) is not None
    ]


def samples_n(data: SampledData) -> int:
    """How many samples a series holds."""
    return len(data.data.split(" ")) if data.data else 0


def _step(data: SampledData) -> timedelta:
    if not LEAST_PERIOD_MS <= data.period <= MOST_PERIOD_MS:
        raise Hold("sample_period_implausible", "valueSampledData.period", data.period)
    return timedelta(milliseconds=float(data.period))


def _start(record: Observation) -> Instant:
    start = span(record.effectivePeriod)[0] if record.effectivePeriod is not None else None
    if start is None:
        raise Hold("no_time", "effectivePeriod.start")
    return start


def _check_fits(record: Observation, samples: int, step: timedelta) -> None:
    assert record.effectivePeriod is not None  # `_start` has looked
    start, end = span(record.effectivePeriod)
    if start is not None and end is not None and samples * step > end.utc - start.utc + step:
        raise Hold("samples_overrun", "valueSampledData.data", f"{samples} samples")


def _fact(sample: str, at: Instant, data: SampledData, kind: Kind, scale: float) -> Fact | None:
    if sample == _NO_VALUE:
        return None
    if sample in {"L", "U"}:
        side = Range.BELOW if sample == "L" else Range.ABOVE
        limit = data.lowerLimit if side is Range.BELOW else data.upperLimit
        if limit is None:
            return Fact(kind, at, range=side)
        bound = float(limit) * scale
        checked_bound(bound, side)
        return Fact(kind, at, amount=bound, range=side)
    if not _NUMBER.fullmatch(sample):
        raise Hold("samples_broken", "valueSampledData.data", sample)
    assert data.origin.value is not None  # looked at before
    factor = Decimal(1) if data.factor is None else data.factor
    return Fact(kind, at, amount=(float(data.origin.value) + float(factor) * float(sample)) * scale)
