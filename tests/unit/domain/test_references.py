"""A signed reference holds until what it rests on changes."""

from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest
from support.nightly_home import child

from gramrise.domain.bands import TimeBand
from gramrise.domain.care_plan import CarePlan
from gramrise.domain.person import Dated
from gramrise.domain.references import SignedBand, SignedReference, ended_by, reference_ends, signed_sources
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.words import Delivery

SIGNED = date(2026, 5, 3)
TODAY = date(2026, 6, 20)
MIA = replace(child(), delivery=Dated(((date(2026, 1, 1), Delivery.PUMP),)))


def reference(person=MIA, **changed):
    bands = tuple(
        SignedBand(
            band=band.name, hours=band.hours, factor_mg_dl_per_g=7.0, p05_factor_mg_dl_per_g=6.0,
            p95_factor_mg_dl_per_g=8.2, weight_adjusted_mg_dl_kg_per_g=224.0, pairings_used=20, state="own",
        )
        for band in person.bands_now()
    )  # fmt: skip
    stated = {
        "person_id": person.person_id, "number": 1, "signed_at_utc": datetime(2026, 5, 3, 9, tzinfo=UTC),
        "signed_by": "R. Lindqvist", "as_of": SIGNED, "bands": bands, "weight_kg": 32.0, "delivery": "pump",
        "sources": signed_sources(person.sources_now()), "valid_until": date(2026, 11, 3), "model_version": "8",
    }  # fmt: skip
    return SignedReference.model_validate(stated | changed)


def ends(person=MIA, weight_kg=32.5, today=TODAY, **changed):
    return ended_by(reference(**changed), person, weight_kg, today)


def test_a_reference_of_a_child_of_whom_nothing_has_changed_holds():
    assert ends() == ()


def test_it_ends_after_its_last_day_and_not_on_it():
    assert ends(today=date(2026, 11, 3)) == ()
    assert ends(today=date(2026, 11, 4)) == ("expired",)


@pytest.mark.parametrize(("weight_kg", "said"), [(33.5, ()), (33.6, ("weight",)), (30.4, ("weight",)), (None, ())])
def test_it_ends_with_a_body_weight_that_has_moved_by_a_twentieth(weight_kg, said):
    assert ends(weight_kg=weight_kg) == said


def test_it_ends_with_other_hours_of_the_bands():
    night = (TimeBand("daytime", time(6), time(22)), TimeBand("overnight", time(22), time(6)))
    assert ends(replace(MIA, bands=MIA.bands.with_entry(date(2026, 6, 1), night))) == ("bands",)


def test_it_ends_with_another_delivery_of_insulin():
    automated = MIA.delivery.with_entry(date(2026, 6, 1), Delivery.AUTOMATED)
    assert ends(replace(MIA, delivery=automated)) == ("delivery",)


def test_it_ends_with_another_strength_and_not_with_one_source_more():
    tin = MIA.sources_now()[0]
    bottle = Source("bottle", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS)
    weaker = replace(tin, grams_per_piece=3.0)
    for sources, said in [((tin, bottle), ()), ((weaker,), ("sources",)), ((bottle,), ("sources",))]:
        assert ends(replace(MIA, sources=MIA.sources.with_entry(date(2026, 6, 1), sources))) == said


def test_a_change_to_come_ends_nothing_yet():
    later = MIA.delivery.with_entry(date(2026, 7, 1), Delivery.AUTOMATED)
    assert ends(replace(MIA, delivery=later)) == ()


def test_it_ends_with_the_day_on_which_it_was_taken_back():
    assert ends(withdrawn_on=TODAY) == ("withdrawn",)


def test_it_holds_as_long_as_a_care_plan_could_half_a_year_or_three_months_while_the_body_changes_fast():
    assert reference_ends(MIA, SIGNED) == date(2026, 11, 3)
    assert reference_ends(replace(MIA, born=date(2021, 1, 1)), SIGNED) == date(2026, 8, 3)
    puberty = replace(MIA, care_plan=Dated(((date(2026, 1, 1), CarePlan(in_puberty=True)),)))
    assert reference_ends(puberty, SIGNED) == date(2026, 8, 3)


def test_a_reference_comes_back_from_its_text_as_it_was():
    one = reference(set_aside={"mixed_with_food": 3}, plan_amounts={"standard_grams": 6.0})
    assert SignedReference.model_validate_json(one.model_dump_json()) == one
