"""Facts that change: which value holds on which day."""

from datetime import date

from gramrise.domain.person import Dated

WEIGHTS = Dated(((date(2025, 6, 1), 32.0), (date(2025, 1, 1), 30.0)))


def test_a_weight_holds_from_its_day_until_the_next_weighing():
    assert WEIGHTS.on(date(2024, 12, 31)) is None
    assert WEIGHTS.on(date(2025, 1, 1)) == 30.0
    assert WEIGHTS.on(date(2025, 5, 31)) == 30.0
    assert WEIGHTS.on(date(2025, 6, 1)) == 32.0
    assert WEIGHTS.latest() == 32.0
    assert WEIGHTS.since() == date(2025, 6, 1)


def test_before_the_first_weighing_the_first_weight_can_be_carried_back():
    assert WEIGHTS.on_or_first(date(2024, 1, 1)) == 30.0
    assert Dated().on_or_first(date(2024, 1, 1)) is None


def test_a_second_value_for_a_day_replaces_the_first():
    assert WEIGHTS.with_entry(date(2025, 6, 1), 32.4).entries == ((date(2025, 1, 1), 30.0), (date(2025, 6, 1), 32.4))
