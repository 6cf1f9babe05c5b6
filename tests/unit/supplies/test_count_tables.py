"""Counts from files."""

from datetime import UTC, datetime

import pytest
from support.place_people import child

from gramrise.supplies import is_count_table, read_count_table

NOW = datetime(2026, 3, 9, tzinfo=UTC)
HEADER = "container,source,from,to,filled,left"


@pytest.mark.parametrize("header", [HEADER, "Left;Filled;To;From;Source;Container", HEADER.replace(",", "\t")])
def test_a_header_with_these_columns_in_any_order_is_a_table_of_counts(header):
    assert is_count_table(header)


@pytest.mark.parametrize("header", ["time,glucose", "container,from,to,filled,left", HEADER + ",who", ""])
def test_other_headers_are_none(header):
    assert not is_count_table(header)


def test_good_rows_are_read_and_bad_ones_are_named_with_row_and_mend():
    rows = [
        "tin,candy,2026-03-02 08:00,2026-03-02 15:00,20,13",
        "tin,candy,2026-03-03 08:00,soon,20,13",
        "tin,candy,2026-03-04 08:00,2026-03-04 15:00,ten,3",
        "tin,candy,2026-03-05 08:00,2026-03-05 15:00,3,10",
        "tin,,2026-03-05 08:00,2026-03-05 15:00,10,3",
        "tin,candy,2026-03-11 08:00,2026-03-12 15:00,10,3",
        "",
    ]
    read = read_count_table("\n".join([HEADER, *rows]), "counts.csv", child(), NOW)
    assert [(c.container, c.pieces_gone) for c in read.counts] == [("tin", 7)]
    assert [trouble.row for trouble, _ in read.troubles] == [3, 4, 5, 6, 7]
    told = " ".join(trouble.sentence for trouble, _ in read.troubles)
    for words in ("'soon' is not a time", "'ten' is no whole number", "refilled", "source is empty", "not been yet"):
        assert words in told
