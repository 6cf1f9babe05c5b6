"""A container count against log and trace: what is gone, and where it may have been taken. Never fed back."""

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from gramrise.domain.counts import ContainerCount
from gramrise.domain.findings import Inputs
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit, Source
from gramrise.domain.starting import BAND_SD_LOG, PERSON_SD_LOG, STARTING_TABLES
from gramrise.place.evidence import PieceEffect, evidence_of, own_rises, price_elsewhere, usual_pieces
from gramrise.place.layings import Laid, lay
from gramrise.place.recoveries import OwnTurns, Recovery, own_turns
from gramrise.place.settings import PlaceSettings

# Without any weight: the middle of the ages that carry tins (CDC 2000 growth charts, about 10 years).
WEIGHT_IF_UNKNOWN_KG = 32.0


@dataclass(frozen=True, slots=True)
class PlacedCount:
    """A count with what the log says of it. `pieces_untimed` is gone from the container, whoever took it."""

    count: ContainerCount
    pieces_logged: float
    pieces_untimed: int  # counted minus logged, never below 0
    grams_untimed: float
    recoveries: tuple[Recovery, ...]
    laid: Laid | None  # None where nothing is gone unlogged
    seen: bool = True  # readings stand in its hours

    @property
    def contradicts_log(self) -> bool:
        """More is logged from this source than is gone from the container."""
        return self.pieces_logged > self.count.pieces_gone


def place_count(
    count: ContainerCount,
    inputs: Inputs,
    factors: pl.DataFrame,
    rules: PlaceSettings,
    turns: OwnTurns | None = None,
) -> PlacedCount:
    """One count, laid. Raises WrongUse where its source is not known or not counted in pieces.

    factors   FACTORS of the person, as of any instant; empty: the starting table's factor by weight
    turns     those of the inputs, where several counts are placed; None: found here
    """
    person = inputs.person
    source = source_counted(person, count)
    logged = _logged_pieces(inputs, count)
    untimed = max(0, round(count.pieces_gone - logged))
    if untimed == 0:
        return PlacedCount(count, logged, 0, 0.0, (), None)
    turns = turns or own_turns(inputs, rules)
    found = turns.within(count.from_utc, count.to_utc)
    effects = [_effect(each, inputs, source, factors, rules) for each in found]
    evidence = [
        evidence_of(each, effect, own_rises(turns, effect.factor_mg_dl_per_g, rules), untimed, rules)
        for each, effect in zip(found, effects, strict=True)
    ]
    usual = _usual(count.to_utc, inputs, source, rules)
    laid = lay(untimed, evidence, price_elsewhere(usual, untimed, rules), rules.layings_shown)
    seen = not inputs.readings.filter(pl.col("at_utc").is_between(count.from_utc, count.to_utc)).is_empty()
    return PlacedCount(count, logged, untimed, untimed * source.glucose_per_unit_g, tuple(found), laid, seen)


def source_counted(person: Person, count: ContainerCount) -> Source:
    """The source as it was on the count's local day. Raises WrongUse."""
    day = count.to_utc.astimezone(person.zone_now()).date()
    held = person.sources.on_or_first(day) or ()
    source = next((each for each in held if each.name == count.source), None)
    if source is None or source.unit is not AmountUnit.PIECE:
        pieces = [each.name for each in held if each.unit is AmountUnit.PIECE]
        raise WrongUse(
            f"'{count.source}' in '{count.container}' is no source of {person.person_id} that comes in pieces",
            f"one of: {', '.join(pieces) or 'none is stated yet: gramrise person source'}",
        )
    return source


def _logged_pieces(inputs: Inputs, count: ContainerCount) -> float:
    inside = (pl.col("taken_at_utc") >= count.from_utc) & (pl.col("taken_at_utc") < count.to_utc)
    mine = (pl.col("source") == count.source) & (pl.col("amount_unit") == str(AmountUnit.PIECE))
    return float(inputs.doses.filter(inside & mine)["amount"].sum())


def _usual(at_utc: datetime, inputs: Inputs, source: Source, rules: PlaceSettings) -> float:
    return usual_pieces(inputs, source.name, source.glucose_per_unit_g, _weight_kg(inputs.person, at_utc), rules)


def _weight_kg(person: Person, at_utc: datetime) -> float:
    return person.weights_kg.on_or_first(at_utc.astimezone(person.zone_now()).date()) or WEIGHT_IF_UNKNOWN_KG


def _effect(
    recovery: Recovery, inputs: Inputs, source: Source, factors: pl.DataFrame, rules: PlaceSettings
) -> PieceEffect:
    """What one piece does at the hour of a recovery: by the person's own factor, else by the starting table."""
    person = inputs.person
    local = recovery.at_utc.astimezone(person.zone_now())
    grams, usual = source.glucose_per_unit_g, _usual(recovery.at_utc, inputs, source, rules)
    band = next((each.name for each in person.bands_now() if each.holds(local.time())), "")
    mine = factors.filter((pl.col("band") == band) & pl.col("factor_mg_dl_per_g").is_not_null())
    if mine.height:
        row = mine.row(-1, named=True)
        return PieceEffect(grams, row["factor_mg_dl_per_g"], row["sd_log"] or BAND_SD_LOG, usual)
    table = STARTING_TABLES[person.starting_table]
    return PieceEffect(
        grams, table.factor_mg_dl_per_g(_weight_kg(person, recovery.at_utc)), BAND_SD_LOG + PERSON_SD_LOG, usual
    )
