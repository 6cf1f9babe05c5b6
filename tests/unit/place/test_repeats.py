"""Hours and weekdays that bring more than a person's own average: found where planted, silent where nothing repeats."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.frames import READINGS
from gramrise.place import Repeats, covered_days, place_settings, repeating_hours

RULES = place_settings()
ZONE = ZoneInfo("Europe/Berlin")
LAST = date(2026, 3, 1)
DAYS = {LAST - timedelta(days=n) for n in range(91)}


def at(day, hour):
    return datetime.combine(day, time(), ZONE).astimezone(UTC) + timedelta(hours=hour)


def scattered(seed=5, a_day=0.7):
    rng = np.random.default_rng(seed)
    return [at(day, rng.uniform(0, 24)) for day in sorted(DAYS) for _ in range(rng.poisson(a_day))]


def judged(lows, given=(), covered=DAYS, last=LAST):
    return repeating_hours(lows, given, covered, last, ZONE, RULES)


def test_a_low_on_every_second_night_at_three_is_found_with_its_hours():
    nightly = [at(day, 3.2) for nth, day in enumerate(sorted(DAYS)) if nth % 2]
    found = judged([*scattered(), *nightly]).found
    hours = [each for each in found if each.weekday is None]
    assert len(hours) == 1
    assert hours[0].what is Repeats.LOWS
    assert hours[0].from_hour in {1, 2, 3}
    assert hours[0].to_hour == hours[0].from_hour + 3
    assert hours[0].seen > 3 * hours[0].expected
    assert hours[0].chance <= RULES.repeat_level


def test_sport_on_tuesday_afternoons_is_found_as_that_weekday():
    tuesdays = [day for day in sorted(DAYS) if day.weekday() == 1]
    given = [(each, 5.0) for each in scattered(seed=9)] + [(at(day, 17), 8.0) for day in tuesdays]
    found = [each for each in judged([], given).found if each.weekday is not None]
    assert [(each.what, each.weekday) for each in found] == [(Repeats.GRAMS, 1)]
    assert (found[0].from_hour, found[0].to_hour) == (16, 20)
    assert found[0].days == len(tuesdays)


def test_where_nothing_repeats_nothing_is_found():
    found = [judged(scattered(seed), [(each, 6.0) for each in scattered(seed)]).found for seed in range(20, 28)]
    assert [len(each) for each in found] == [0] * 8


def test_a_short_record_is_not_judged():
    few = {day for day in DAYS if day > LAST - timedelta(days=40)}
    found = judged([at(day, 3) for day in sorted(few)], covered=few)
    assert (found.judged, found.days, found.found) == (False, 40, ())


def test_few_marks_say_nothing_however_they_lie():
    assert judged([at(day, 3) for day in sorted(DAYS)[:9]]).found == ()


def test_the_window_may_lie_across_midnight():
    nightly = [at(day, 23.5) for day in sorted(DAYS)[::3]] + [at(day, 0.5) for day in sorted(DAYS)[::3]]
    found = [each for each in judged(nightly).found if each.weekday is None]
    assert [(each.from_hour, each.to_hour) for each in found] in ([(22, 1)], [(23, 2)])


def test_the_same_record_gives_the_same_answer_in_any_order():
    lows = [*scattered(), *[at(day, 3.2) for day in sorted(DAYS)[::2]]]
    assert judged(lows) == judged(lows[::-1])


def test_days_without_readings_enough_are_left_out():
    minutes = [*range(0, 24 * 60, 5), *range(24 * 60, 24 * 60 + 17 * 60, 5)]
    begin = datetime(2026, 1, 10, tzinfo=UTC)
    readings = pl.DataFrame(
        {
            "person_id": ["mia"] * len(minutes),
            "at_utc": [begin + timedelta(minutes=n) for n in minutes],
            "glucose_mg_dl": [110.0] * len(minutes),
            "range": ["in"] * len(minutes),
            "offset_minutes": [0] * len(minutes),
        },
        schema=READINGS.schema,
    )
    assert covered_days(readings, ZoneInfo("UTC"), RULES) == {date(2026, 1, 10)}
