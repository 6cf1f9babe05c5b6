"""Stock: what is on hand, how fast it goes, when to mix or buy."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from gramrise.domain.counts import StockCount, refuse_stock_slip
from gramrise.domain.frames import DOSES
from gramrise.domain.mixtures import MixedBatch, Mixture, Powder, WaterBy
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source
from gramrise.report import stock_sentence
from gramrise.supplies import StockState, stock_of, supplies_settings

NOW = datetime(2026, 3, 30, 12, tzinfo=UTC)
BORN = date(2016, 4, 2)
CANDY = Source("candy", Form.TABLET, 1.0)
BOTTLE = Source("bottle", Form.LIQUID, grams_per_ml=0.25, sealed=False)
RULES = supplies_settings()
MIA = Person("mia", BORN, Dated(((BORN, ZoneInfo("UTC")),)), sources=Dated(((BORN, (CANDY, BOTTLE)),)))
MIXTURE = Mixture(Powder.ANHYDROUS, 188, WaterBy.MADE_UP_TO, 750)


def doses(source, unit, amount, days):
    rows = [
        {
            "person_id": "mia", "taken_at_utc": NOW - timedelta(days=day), "source": source, "ordinal": 1,
            "form": "tablet", "amount": amount, "amount_unit": unit, "grams": amount, "may_be_weaker": False,
            "remarks": [], "origin": "file",
        }
        for day in days
    ]  # fmt: skip
    return DOSES.check(pl.DataFrame(rows, schema=DOSES.schema))


def lines(given=DOSES.empty(), counts=(), batches=(), gone=None):  # noqa: B008 - an empty frame is never changed
    return {line.source: line for line in stock_of(MIA, given, list(counts), list(batches), gone or {}, NOW, RULES)}


def counted(amount, days_ago, source="candy"):
    return StockCount(source, NOW - timedelta(days=days_ago), amount)


def batch(days_ago):
    return MixedBatch("mia", 1, "bottle", NOW - timedelta(days=days_ago), MIXTURE, 0.25)


def test_what_was_counted_minus_what_was_logged_since_is_on_hand():
    found = lines(doses("candy", "piece", 4, range(1, 29)), [counted(100, 10.5)])["candy"]
    assert found.on_hand == 60
    assert found.per_day == pytest.approx(4)
    assert found.lasts_until == date(2026, 4, 14)
    assert found.act_by == date(2026, 4, 7)
    assert found.state is StockState.ENOUGH


def test_pieces_gone_from_a_tin_are_gone_from_the_stock_too():
    gone = {"candy": [(NOW - timedelta(days=2), 7), (NOW - timedelta(days=40), 9)]}
    assert lines(counts=[counted(20, 10)], gone=gone)["candy"].on_hand == 13


def test_the_latest_count_holds_and_an_earlier_one_is_forgotten():
    assert lines(counts=[counted(100, 10), counted(30, 1)])["candy"].on_hand == 30


def test_a_source_that_runs_low_names_the_day_to_buy():
    found = lines(doses("candy", "piece", 4, range(1, 29)), [counted(20, 0.5)])["candy"]
    assert found.state is StockState.ACT
    assert found.act_by == NOW.date()
    assert "Buy by 30 Mar 2026" in stock_sentence(found)


def test_a_mixed_bottle_is_on_hand_until_its_days_are_over():
    found = lines(doses("bottle", "mL", 20, range(1, 29)), batches=[batch(3.5)])["bottle"]
    assert found.on_hand == pytest.approx(690)
    assert found.use_by == date(2026, 4, 3)
    assert found.act_by == date(2026, 4, 3)
    assert found.state is StockState.ACT
    assert "Mix by 03 Apr 2026" in stock_sentence(found)


def test_a_bottle_past_its_days_is_poured_away_however_much_is_left():
    found = lines(batches=[batch(9)])["bottle"]
    assert found.state is StockState.PAST_ITS_DAYS
    assert "pour it away" in stock_sentence(found)


def test_more_taken_than_there_was_asks_for_a_count_and_claims_no_amount():
    found = lines(doses("candy", "piece", 4, range(1, 29)), [counted(5, 10)])["candy"]
    assert (found.state, found.on_hand) == (StockState.COUNT_AGAIN, None)
    assert "count again" in stock_sentence(found)


def test_what_nobody_counted_is_not_known():
    found = lines()
    assert {line.state for line in found.values()} == {StockState.NOT_COUNTED}
    assert "--on-hand" in stock_sentence(found["candy"])
    assert "gramrise mix" in stock_sentence(found["bottle"])


def test_a_log_of_a_few_days_says_nothing_of_the_pace():
    assert lines(doses("candy", "piece", 4, (1, 2, 3)), [counted(50, 5)])["candy"].per_day is None


def test_what_is_taken_later_than_now_does_not_count():
    late = doses("candy", "piece", 4, (-1,))
    assert lines(late, [counted(50, 1)])["candy"].on_hand == 50


def test_less_than_nothing_cannot_be_counted():
    with pytest.raises(WrongUse, match="below zero"):
        counted(-1, 0)
    assert replace(counted(1, 0), amount=0).amount == 0


def test_a_bottle_that_is_poured_away_before_it_is_used_up_lasts_until_its_last_day_only():
    found = lines(doses("bottle", "mL", 10, range(1, 29)), batches=[batch(0.5)])["bottle"]
    assert (found.lasts_until, found.act_by) == (None, found.use_by)


@pytest.mark.parametrize(("on_hand", "before"), [(450, 45), (51, 10)])
def test_a_count_of_many_times_what_was_there_is_asked_about(on_hand, before):
    with pytest.raises(WrongUse, match="times as much as was on hand before"):
        refuse_stock_slip(on_hand, before)


@pytest.mark.parametrize(("on_hand", "before"), [(225, 45), (90, 9), (450, None), (4, 45)])
def test_an_ordinary_shopping_is_not_asked_about(on_hand, before):
    assert refuse_stock_slip(on_hand, before) is None
