"""What the card promises whoever the person is."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gramrise.domain.care_plan import CarePlan
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import FACTORS, PAIRINGS, PREDICTIONS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.card import card_view

NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)
TODAY = date(2026, 11, 24)
ONCE = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow], "derandomize": True}

strengths = st.floats(0.3, 12.0)
plans = st.builds(
    CarePlan,
    standard_grams=st.none() | st.floats(3, 14),
    below_54_grams=st.floats(9, 25),
    least_grams=st.none() | st.floats(1, 8),
    most_grams=st.none() | st.floats(6, 30),
    look_again_minutes=st.just(15),
    second_grams=st.floats(3, 20),
    early_grams_allowed=st.booleans(),
    early_grams=st.none() | st.floats(2, 8),
    automated_grams=st.none() | st.floats(3, 10),
    approved_on=st.just(date(2026, 11, 1)),
)
# A plan that never stands in the way: what is computed is compared.
generous = st.builds(
    CarePlan,
    standard_grams=st.just(10.0),
    below_54_grams=st.just(20.0),
    look_again_minutes=st.just(15),
    second_grams=st.just(10.0),
    early_grams_allowed=st.booleans(),
    approved_on=st.just(date(2026, 11, 1)),
)
pieces = st.builds(
    lambda grams, stated: Source("tin", Form.TABLET, grams_per_piece=grams, stated_as=stated),
    strengths,
    st.sampled_from(StatedAs),
)
liquids = st.builds(
    lambda grams, form: Source("bottle", form, grams_per_ml=grams),
    st.floats(0.05, 0.7),
    st.sampled_from([Form.LIQUID, Form.GEL]),
)
sources = pieces | liquids


def plenty():
    """Ten used pairings of each band in the last ten days."""
    rows = [
        {
            "person_id": "p",
            "first_dose_utc": NOW - timedelta(days=n, hours=0 if band == "daytime" else 10),
            "band": band,
            "verdict": "used",
            "weight_kg": 30.0,
            "factor_mg_dl_per_g": 8.0,
        }
        for band in ("daytime", "overnight")
        for n in range(1, 11)
    ]
    missing = [pl.lit(None, dtype).alias(name) for name, dtype in PAIRINGS.schema.items() if name not in rows[0]]
    return pl.DataFrame(rows).with_columns(*missing)


PLENTY = plenty()
FORETOLD = PLENTY.select(
    "person_id",
    "first_dose_utc",
    minutes_after=pl.lit(30, PREDICTIONS.schema["minutes_after"]),
    predicted_mg_dl=pl.lit(95.0),
    p05_mg_dl=pl.lit(70.0),
    p95_mg_dl=pl.lit(120.0),
    seen_mg_dl=pl.lit(90.0),
    inside=pl.lit(True),
)


@st.composite
def people(draw, least_age=0, plans=plans, deliveries=tuple(Delivery)):
    born = date(2026 - draw(st.integers(least_age, 60)), 6, 1)
    return Person(
        person_id="p",
        born=born,
        zone=Dated(((born, ZoneInfo("Europe/Berlin")),)),
        unit=draw(st.sampled_from(GlucoseUnit)),
        weights_kg=Dated(((TODAY, draw(st.floats(20 if least_age >= 6 else 9, 130))),)),
        delivery=Dated(((born, draw(st.sampled_from(deliveries))),)),
        target_mg_dl=Dated(((born, draw(st.floats(80, 140))),)),
        care_plan=Dated(((born, draw(plans)),)),
    )


@st.composite
def found_for(draw, who, states=("own", "thin", "withheld"), doubt=None):
    """FACTORS of two bands, the same doubt in both where `doubt` is given."""
    weight = who.weights_kg.latest()
    rows = []
    for band in ("daytime", "overnight"):
        sd_log, event_sd_log = doubt or (draw(st.floats(0.05, 0.6)), draw(st.floats(0.1, 0.9)))
        factor = draw(st.floats(0.8, 60))
        rows.append(
            {
                "person_id": "p",
                "band": band,
                "as_of_utc": NOW,
                "weight_kg": weight,
                "factor_mg_dl_per_g": factor,
                "p05_factor_mg_dl_per_g": factor * 0.8,
                "p95_factor_mg_dl_per_g": factor * 1.25,
                "weight_adjusted_mg_dl_kg_per_g": weight * factor,
                "pairings_used": draw(st.integers(0, 200)),
                "state": draw(st.sampled_from(states)),
                "sd_log": sd_log,
                "event_sd_log": event_sd_log,
            }
        )
    return (
        pl.DataFrame(rows)
        .with_columns(pl.lit(None, dtype).alias(name) for name, dtype in FACTORS.schema.items() if name not in rows[0])
        .select(pl.col(name).cast(dtype) for name, dtype in FACTORS.schema.items())
    )


def made(who, found, source):
    findings = Findings(NOW, factors=found, pairings=PLENTY, predictions=FORETOLD)
    return card_view(Inputs(who), findings, source, now_utc=NOW, number=1)


COMPUTED = {"plans": generous, "deliveries": (Delivery.PUMP, Delivery.INJECTIONS)}


class Compared:
    """Counts what was really compared: a property that compares nothing must fail."""

    def __init__(self, least):
        self.least, self.count = least, 0

    def check(self):
        assert self.count >= self.least, (self.count, self.least)


def test_no_amount_is_over_a_cap_or_differs_from_the_plan_and_none_stands_in_a_withheld_cell():
    own, thin, refused = Compared(10), Compared(20), Compared(10)

    def hold(kinds, states):
        @settings(max_examples=40, **ONCE)
        @given(st.data())
        def holds(data):
            who, source = data.draw(people(**kinds)), data.draw(sources)
            view, plan = made(who, data.draw(found_for(who, states)), source), who.care_plan.latest()
            refused.count += bool(view.withheld)
            most = min(0.3 * view.weight_kg, 20, plan.most_grams or 99)
            stated = {plan.standard_grams, plan.early_grams, plan.automated_grams}
            for row in view.rows:
                for band, cell in zip(view.bands, row.cells, strict=True):
                    if view.withheld or cell.state == "withheld":
                        assert (cell.amount, cell.grams) == (None, None)
                    elif cell.state == "thin":
                        assert cell.grams in stated
                        if cell.amount is not None:
                            assert abs(cell.amount * source.glucose_per_unit_g / cell.grams - 1) <= 0.1001
                        thin.count += 1
                    else:
                        assert band.state == "own"
                        assert 0 < cell.grams <= most + 1e-4
                        assert cell.grams == pytest.approx(cell.amount * source.glucose_per_unit_g)
                        own.count += 1
            if view.delivery == "automated":
                assert not view.has_own_amounts

        holds()

    # Each kind of cell is drawn for: of draws at random few print an amount of the person's own.
    for kinds, states in ((COMPUTED, ("own",)), ({"plans": generous}, ("thin",)), ({}, ("own", "thin", "withheld"))):
        hold(kinds, states)
    for compared in (own, thin, refused):
        compared.check()


def test_never_more_stands_above_54_than_below():
    compared = Compared(40)

    @settings(max_examples=120, **ONCE)
    @given(st.data())
    def holds(data):
        who, source = data.draw(people(least_age=6)), data.draw(sources)
        view = made(who, data.draw(found_for(who)), source)
        below = view.plan.below_54
        least = below.grams if below.units is None else below.units * source.glucose_per_unit_g
        for row in view.rows:
            for cell in row.cells:
                if cell.grams is not None:
                    given_g = cell.grams if cell.amount is None else cell.amount * source.glucose_per_unit_g
                    assert given_g <= least + 1e-6
                    compared.count += 1

    holds()
    compared.check()


def test_a_lower_reading_never_gets_less():
    compared = Compared(30)

    @settings(max_examples=60, **ONCE)
    @given(st.data())
    def holds(data):
        who = data.draw(people(least_age=6, **COMPUTED))
        view = made(who, data.draw(found_for(who, states=("own",))), data.draw(sources))
        for at in range(len(view.bands)):
            grams = [row.cells[at].grams for row in view.rows if row.cells[at].grams is not None]
            assert grams == sorted(grams, reverse=True)
            compared.count += len(grams) > 1

    holds()
    compared.check()


def test_a_smaller_factor_never_gets_less():
    compared = Compared(30)

    @settings(max_examples=50, **ONCE)
    @given(st.data())
    def holds(data):
        who = data.draw(people(least_age=6, **COMPUTED))
        doubt = (data.draw(st.floats(0.05, 0.6)), data.draw(st.floats(0.1, 0.9)))
        found = data.draw(found_for(who, states=("own",), doubt=doubt))
        view = made(who, found, data.draw(sources))
        factors = [band.factor_mg_dl_per_g for band in view.bands]
        for row in view.rows:
            given_grams = sorted(
                (factor, cell.grams) for factor, cell in zip(factors, row.cells, strict=True) if factor and cell.grams
            )
            assert all(a[1] >= b[1] for a, b in pairwise(given_grams))
            compared.count += len(given_grams) > 1

    holds()
    compared.check()


def test_one_piece_is_never_more_than_a_quarter_over_what_is_wanted():
    """Wanted to a hundredth of a gram: the same card for tiny pieces tells it without rounding."""
    compared = Compared(10)

    @settings(max_examples=60, **ONCE)
    @given(st.data())
    def holds(data):
        who = data.draw(people(least_age=6, **COMPUTED))
        found, piece = data.draw(found_for(who, states=("own",))), data.draw(pieces)
        fine_source = Source("fine", Form.TABLET, grams_per_piece=0.01, stated_as=StatedAs.ANHYDROUS)
        coarse, fine = made(who, found, piece), made(who, found, fine_source)
        for row, fine_row in zip(coarse.rows, fine.rows, strict=True):
            for cell, fine_cell in zip(row.cells, fine_row.cells, strict=True):
                if cell.amount == 1:
                    assert cell.grams <= 1.25 * fine_cell.grams + 0.02
                    compared.count += 1
                if cell.reason == "piece_too_much":
                    assert piece.glucose_per_unit_g > 1.25 * (fine_cell.grams - 0.011)
                    compared.count += 1

    holds()
    compared.check()


def test_a_child_under_four_never_gets_pieces_and_under_two_nothing():
    compared = Compared(10)

    @settings(max_examples=40, **ONCE)
    @given(st.data())
    def holds(data):
        age_months = data.draw(st.integers(0, 60))
        months = 2026 * 12 + 10 - age_months
        born = date(months // 12, months % 12 + 1, 24)
        who = data.draw(people(least_age=6, plans=generous))
        who = replace(who, born=born, delivery=Dated(((born, Delivery.PUMP),)))
        source = data.draw(sources)
        view = made(who, data.draw(found_for(who, states=("own", "thin"))), source)
        if age_months < 24 or (age_months < 48 and source.form is Form.TABLET):
            assert view.withheld
            assert not view.has_amounts
            compared.count += 1

    holds()
    compared.check()
