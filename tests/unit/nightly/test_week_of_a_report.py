"""Which week a report is of when nobody names one: it ends with the last complete night."""

from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest
from support.report_people import person

from gramrise.domain.frames import READINGS
from gramrise.nightly.mail.weekly import last_day


def _readings_to(last):
    rows = [("mia", last - timedelta(minutes=5 * n), 110.0, "in", None) for n in range(3)]
    return pl.DataFrame(rows, schema=READINGS.schema, orient="row").sort("at_utc")


@pytest.mark.parametrize(
    ("last_reading", "now", "ends"),
    [
        # Berlin is an hour ahead of UTC in November: noon is 11:00.
        (datetime(2026, 11, 25, 13, tzinfo=UTC), datetime(2026, 11, 25, 14, tzinfo=UTC), date(2026, 11, 25)),
        (datetime(2026, 11, 25, 8, tzinfo=UTC), datetime(2026, 11, 25, 9, tzinfo=UTC), date(2026, 11, 24)),
        (datetime(2026, 11, 25, 8, tzinfo=UTC), datetime(2026, 11, 25, 11, tzinfo=UTC), date(2026, 11, 25)),
        (datetime(2026, 11, 9, 23, tzinfo=UTC), datetime(2026, 11, 25, 14, tzinfo=UTC), date(2026, 11, 10)),
    ],
)
def test_a_week_ends_with_the_last_complete_night(last_reading, now, ends):
    assert last_day(person(), _readings_to(last_reading), now) == ends


def test_without_readings_the_week_ends_with_the_night_before_now():
    now = datetime(2026, 11, 25, 9, tzinfo=UTC)
    assert last_day(person(), READINGS.empty(), now) == date(2026, 11, 24)
