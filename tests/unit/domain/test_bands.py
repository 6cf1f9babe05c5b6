"""Time bands on the local clock: midnight, clock changes, gaps and overlaps."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from gramrise.domain.bands import DEFAULT_BANDS, TimeBand, band_at, band_expression, check_bands
from gramrise.domain.problems import WrongUse

BERLIN = ZoneInfo("Europe/Berlin")


def test_the_start_of_a_band_belongs_to_it_and_the_end_does_not():
    daytime, overnight = DEFAULT_BANDS
    assert daytime.holds(time(7, 0))
    assert not daytime.holds(time(22, 0))
    assert overnight.holds(time(22, 0))
    assert not overnight.holds(time(7, 0))


def test_overnight_runs_across_midnight():
    overnight = DEFAULT_BANDS[1]
    assert [overnight.holds(time(h)) for h in (21, 23, 0, 3, 6, 8)] == [False, True, True, True, True, False]


def test_both_passes_of_the_repeated_hour_of_an_autumn_night_lie_in_the_same_band():
    bands = check_bands((TimeBand("early", time(2, 30), time(7)), TimeBand("rest", time(7), time(2, 30))))
    # 27 Oct 2024 in Berlin: 02:45 comes twice, at 00:45 and 01:45 UTC; 02:15 comes between them.
    first, between, second = (datetime(2024, 10, 27, h, m, tzinfo=UTC) for h, m in ((0, 45), (1, 15), (1, 45)))
    assert [band_at(at, BERLIN, bands).name for at in (first, between, second)] == ["early", "rest", "early"]


def test_the_column_expression_agrees_with_the_single_instant_at_every_half_hour_of_two_clock_change_days():
    starts = (datetime(2024, 10, 26, 12, tzinfo=UTC), datetime(2024, 3, 30, 12, tzinfo=UTC))
    times = [s.timestamp() + 1800 * i for s in starts for i in range(96)]
    frame = pl.DataFrame({"at_utc": [datetime.fromtimestamp(t, UTC) for t in times]}).cast(pl.Datetime("us", "UTC"))
    for zone in (BERLIN, ZoneInfo("Australia/Lord_Howe")):
        got = frame.select(band_expression("at_utc", zone, DEFAULT_BANDS)).to_series().to_list()
        assert got == [band_at(at, zone, DEFAULT_BANDS).name for at in frame["at_utc"]]


def test_hours_are_printed_with_the_band():
    assert [band.hours for band in DEFAULT_BANDS] == ["07:00-22:00", "22:00-07:00"]


@pytest.mark.parametrize(
    ("bands", "said"),
    [
        ((TimeBand("a", time(7), time(22)), TimeBand("b", time(22), time(6))), "06:00 lies in no time band"),
        ((TimeBand("a", time(7), time(23)), TimeBand("b", time(22), time(7))), "22:00 lies in a and b"),
        ((TimeBand("a", time(0), time(23, 50)), TimeBand("b", time(23, 55), time(0))), "23:50 lies in no time band"),
        ((TimeBand("a", time(7), time(22)), TimeBand("a", time(22), time(7))), "same name"),
    ],
)
def test_bands_that_leave_a_gap_or_overlap_are_refused_naming_the_first_minute(bands, said):
    with pytest.raises(WrongUse, match=said):
        check_bands(bands)


def test_a_table_of_instants_is_filed_as_each_instant_alone_to_the_minute():
    zone = ZoneInfo("Europe/Berlin")
    quarter_past = (TimeBand("day", time(7, 15), time(21, 45)), TimeBand("night", time(21, 45), time(7, 15)))
    begin = datetime(2026, 3, 28, 12, tzinfo=UTC)  # the clock goes forward in the night after
    minutes = [begin + timedelta(minutes=n) for n in range(36 * 60)]
    filed = pl.DataFrame({"at_utc": minutes}).select(band_expression("at_utc", zone, quarter_past))
    assert filed.to_series().to_list() == [band_at(at, zone, quarter_past).name for at in minutes]
    edges = {at.astimezone(zone).time() for at in minutes[1:] if _begins(at, zone, quarter_past)}
    assert edges == {time(7, 15), time(21, 45)}


def _begins(at, zone, bands):
    return band_at(at, zone, bands) != band_at(at - timedelta(minutes=1), zone, bands)


def test_one_band_may_be_the_whole_day():
    whole = check_bands((TimeBand("always", time(6), time(6)),))
    hours = [datetime(2026, 3, 20, hour, tzinfo=UTC) for hour in range(24)]
    filed = pl.DataFrame({"at_utc": hours}).select(band_expression("at_utc", ZoneInfo("UTC"), whole))
    assert filed.to_series().to_list() == ["always"] * 24


def test_the_column_expression_does_not_hang_on_the_order_of_the_bands():
    times = [datetime(2026, 1, 15, hour, tzinfo=UTC) for hour in range(24)]
    frame = pl.DataFrame({"at_utc": times}).cast(pl.Datetime("us", "UTC"))
    for bands in (DEFAULT_BANDS, DEFAULT_BANDS[::-1]):
        got = frame.select(band_expression("at_utc", BERLIN, bands)).to_series().to_list()
        assert got == [band_at(at, BERLIN, bands).name for at in times]
