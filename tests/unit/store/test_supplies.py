"""Batches in the store: what is taken from a bottle has the bottle's strength."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from support.store_logs import NOW, child

from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES
from gramrise.domain.mixtures import Mixture, Powder, WaterBy
from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.nightly import with_strength

MIXTURE = Mixture(Powder.ANHYDROUS, 188, WaterBy.MADE_UP_TO, 750)
WHO = child().person_id
EVENING = NOW - timedelta(hours=12)


def given(store, at, ml=20.0, source="bottle"):
    import polars as pl

    row = {
        "person_id": WHO, "taken_at_utc": at, "source": source, "ordinal": 1, "form": "liquid", "amount": ml,
        "amount_unit": "mL", "grams": 1.0, "may_be_weaker": True, "remarks": [], "origin": "give",
        "noticed": "",
    }  # fmt: skip
    frame = pl.DataFrame([row], schema=DOSES.schema)
    batch = Batch(person_id=WHO, file=f"{at}", content_hash=f"{at}", layout="give", rows_offered=1, doses=frame)
    store.take_in(batch, NOW)


def grams(store):
    return store.inputs(WHO).doses["grams"].to_list()


def test_what_is_taken_from_a_bottle_has_its_strength_and_what_was_taken_before_has_not(store):
    store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    given(store, EVENING - timedelta(hours=1))
    given(store, EVENING + timedelta(hours=1))
    assert grams(store) == [None, pytest.approx(5.0)]  # nobody has stated the bottle that stood there before
    assert store.inputs(WHO).doses["may_be_weaker"].to_list() == [True, False]


def test_a_bottle_mixed_at_noon_changes_nothing_that_was_given_that_morning(store):
    before = Source(name="bottle", form=Form.LIQUID, grams_per_ml=0.2, stated_as=StatedAs.ANHYDROUS)
    who = store.person(WHO)
    store.save_person(replace(who, sources=Dated(((date(2025, 1, 1), (before,)),))))
    stated = with_strength(store.person(WHO), "bottle", EVENING, 0.25)
    store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25, now_utc=NOW, stated=stated)
    given(store, EVENING - timedelta(hours=1))
    given(store, EVENING + timedelta(hours=1))
    assert grams(store) == [pytest.approx(4.0), pytest.approx(5.0)]


def test_the_next_bottle_of_a_source_takes_over_from_the_last(store):
    store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    store.supplies.keep_batch(WHO, "bottle", EVENING + timedelta(hours=2), MIXTURE, 0.2)
    store.supplies.keep_batch(WHO, "other", EVENING + timedelta(hours=2), MIXTURE, 0.1)
    given(store, EVENING + timedelta(hours=1))
    given(store, EVENING + timedelta(hours=3))
    assert grams(store) == [pytest.approx(5.0), pytest.approx(4.0)]


def test_correcting_the_powder_recomputes_what_was_taken_and_asks_for_new_findings(store):
    batch = store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    given(store, EVENING + timedelta(hours=1))
    _, before = store.inputs_and_version(WHO)
    store.supplies.correct_batch(
        replace(batch, mixture=replace(MIXTURE, powder=Powder.MONOHYDRATE), strength_g_per_ml=0.25 * 0.909)
    )
    assert grams(store) == [pytest.approx(4.545)]
    assert store.inputs_and_version(WHO)[1] > before
    assert store.supplies.batches(WHO)[0].mixture.powder is Powder.MONOHYDRATE


def test_where_nobody_knows_the_strength_the_grams_are_unknown(store):
    store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, None)
    given(store, EVENING + timedelta(hours=1))
    assert grams(store) == [None]


def test_one_bottle_is_not_logged_twice_and_one_there_is_not_is_not_corrected(store):
    batch = store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    with pytest.raises(WrongUse, match="already"):
        store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    with pytest.raises(WrongUse, match="no batch 9"):
        store.supplies.correct_batch(replace(batch, number=9))


def test_a_forgotten_person_leaves_no_batch(store):
    store.supplies.keep_batch(WHO, "bottle", EVENING, MIXTURE, 0.25)
    store.forget(WHO)
    assert store.supplies.batches(WHO) == []
