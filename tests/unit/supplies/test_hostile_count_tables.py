"""Tables of counts with slips and hostile cells: each costs its own row, and no row is lost without being named."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.supplies import read_count_table

NOW = datetime(2026, 11, 24, 20, tzinfo=UTC)
HEADER = "container,source,from,to,filled,left"
GOOD = "tin,candy,2026-11-20 08:00,2026-11-20 15:00,20,13"
CANDY = Source("candy", Form.TABLET, grams_per_piece=1.0, stated_as=StatedAs.ANHYDROUS)
MIRA = Person(
    "mira",
    date(2016, 4, 2),
    Dated(((date(2016, 4, 2), ZoneInfo("Europe/Berlin")),)),
    sources=Dated(((date(2016, 4, 2), (CANDY,)),)),
)


@pytest.mark.parametrize(
    "bad",
    [
        "tin,cany,2026-11-21 08:00,2026-11-21 15:00,20,13",  # no such source
        'tin,candy,2026-11-21 08:00,2026-11-21 15:00,"20,13',  # a mark without its partner
        "tin,candy,2026-11-21 08:00,2026-11-21 15:00,999999999999999999999999999999,13",
        "tin,candy,0001-01-01 00:00,2026-11-21 15:00,20,13",
        "tin,candy,9999-12-31 23:59,9999-12-31 23:59,20,13",
        "ti\0n,candy,2026-11-21 08:00,2026-11-21 15:00,20,13",
        "tin,candy,2026-11-21 08:00,2026-11-21 15:00,-3,13",
    ],
)
def test_a_bad_row_costs_itself_alone(bad):
    read = read_count_table("\n".join([HEADER, GOOD, bad, GOOD.replace("-20 ", "-22 ")]), "t.csv", MIRA, NOW)
    assert len(read.counts) + len(read.troubles) == 3
    assert len(read.troubles) <= 1
    assert [count.to_utc.day for count in read.counts][0 :: len(read.counts) - 1] == [20, 22]
