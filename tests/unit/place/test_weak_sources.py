"""A source whose glucose works less than the person's other glucose: found from enough uses, with its likely causes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from support.place_people import BORN, child

from gramrise.domain.frames import PAIRINGS
from gramrise.domain.mixtures import MixedBatch, Mixture, Powder, WaterBy
from gramrise.domain.person import Dated
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.place import WeakCause, place_settings, weak_glucose

RULES = place_settings()
FIRST = datetime(2026, 1, 1, tzinfo=UTC)
CANDY = Source("candy", Form.TABLET, 1.0, stated_as=StatedAs.ANHYDROUS)
BOTTLE = Source("bottle", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS, sealed=False)
WHO = replace(child(), sources=Dated(((BORN, (CANDY, BOTTLE)),)))


def pairings(weak_ratio, bottles=60, candies=120, scatter=0.2, seed=1):
    """Treatments in turn; 1 g of candy raises 10 mg/dL at 32 kg, the bottle's grams raise `weak_ratio` of that."""
    rng = np.random.default_rng(seed)
    names = ["candy"] * candies + ["bottle"] * bottles
    rng.shuffle(names)
    rows = [
        {
            **dict.fromkeys(PAIRINGS.schema),
            "person_id": "mia",
            "first_dose_utc": FIRST + timedelta(hours=12 * nth),
            "band": "daytime",
            "sources": [name],
            "verdict": "used",
            "weight_kg": 32.0,
            "factor_mg_dl_per_g": 10.0 * (weak_ratio if name == "bottle" else 1.0) * np.exp(rng.normal(0, scatter)),
            "factor_sd_mg_dl_per_g": 1.0,
        }
        for nth, name in enumerate(names)
    ]
    return pl.DataFrame(rows, schema=PAIRINGS.schema)


def of(name, found):
    return next(each for each in found if each.source == name and each.batch is None)


def test_half_the_glucose_is_found_and_its_ratio_told():
    bottle = of("bottle", weak_glucose(pairings(0.5), WHO, (), RULES))
    assert bottle.weak
    assert bottle.probability_weak > 0.99
    assert bottle.ratio == pytest.approx(0.5, abs=0.06)
    assert bottle.low_ratio < 0.5 < bottle.high_ratio
    assert bottle.causes == (WeakCause.MONOHYDRATE, WeakCause.OVERFILLED, WeakCause.OLD)


def test_glucose_as_good_as_the_other_is_not_called_weak():
    found = weak_glucose(pairings(1.0), WHO, (), RULES)
    assert [each.source for each in found] == ["candy", "bottle"]
    assert [each.weak for each in found] == [False, False]
    assert of("bottle", found).probability_weak < 0.5


def test_the_other_source_is_not_blamed_for_a_strong_one():
    assert not of("candy", weak_glucose(pairings(1.6), WHO, (), RULES)).ratio > 1
    assert not of("bottle", weak_glucose(pairings(1.6), WHO, (), RULES)).weak


def test_too_few_uses_or_nothing_to_compare_with_is_no_verdict():
    assert [each.source for each in weak_glucose(pairings(0.5, bottles=19), WHO, (), RULES)] == ["candy"]
    assert weak_glucose(pairings(0.5, candies=0), WHO, (), RULES) == []


def test_a_verdict_of_a_look_does_not_change_with_later_uses_below_the_next_look():
    many = pairings(0.6, bottles=60)
    upto = many.filter(pl.col("sources").list.first() == "bottle")["first_dose_utc"][44]
    short = many.filter(pl.col("first_dose_utc") <= upto)
    at_forty = many.filter(
        pl.col("first_dose_utc") <= many.filter(pl.col("sources").list.first() == "bottle")["first_dose_utc"][39]
    )
    one, two = (of("bottle", weak_glucose(each, WHO, (), RULES)) for each in (short, at_forty))
    assert one == two
    assert one.uses == 40


def test_one_wild_treatment_moves_nothing():
    wild = pairings(1.0).with_columns(
        factor_mg_dl_per_g=pl.when(pl.int_range(pl.len()) == 3).then(-1e5).otherwise(pl.col("factor_mg_dl_per_g"))
    )
    plain = of("candy", weak_glucose(pairings(1.0), WHO, (), RULES))
    assert of("candy", weak_glucose(wild, WHO, (), RULES)).ratio == pytest.approx(plain.ratio, abs=0.03)


def test_a_bottle_is_judged_apart_and_one_of_monohydrate_is_counted_so_already():
    made = [Mixture(powder, 200, WaterBy.MADE_UP_TO, 750) for powder in (Powder.ANHYDROUS, Powder.MONOHYDRATE)]
    later = FIRST + timedelta(days=45)
    mixed = [MixedBatch("mia", 1, "bottle", FIRST, made[0], 0.25), MixedBatch("mia", 2, "bottle", later, made[1], 0.25)]
    found = [each for each in weak_glucose(pairings(0.6, bottles=80), WHO, mixed, RULES) if each.batch is not None]
    assert {each.batch for each in found} == {1, 2}
    by_number = {each.batch: each.causes for each in found}
    assert by_number[1][0] is WeakCause.MONOHYDRATE
    assert by_number[2] == (WeakCause.OVERFILLED, WeakCause.OLD)
