"""Rows in = rows landed + set aside + passed over, or the file is held."""

from dataclasses import replace

import polars as pl
import pytest
from support.variants import NOW, PERSON, Variant

from gramrise.intake import FileRefused, read_file
from gramrise.intake.files.text_table import TextTable, cells_of
from gramrise.intake.rows import row_account, table_reader
from gramrise.intake.rows.row_account import check_rows
from gramrise.intake.rows.taken_rows import TakenRows

TABLE = TextTable("t.csv", ("time", "glucose"), (), cells_of([(at, ("10:00", "100")) for at in range(2, 12)]))


def rows(*numbers: int) -> pl.Series:
    return pl.Series("row", numbers, dtype=pl.Int64)


def test_an_account_that_agrees_is_passed():
    taken = TakenRows(rows_offered=10, rows_repeated=7, rows_passed_over=3)
    assert check_rows(TABLE, 0, rows(*range(2, 9)), taken) is None


@pytest.mark.parametrize(
    ("used", "taken"),
    [
        (rows(*range(2, 8)), TakenRows(rows_offered=10, rows_repeated=7, rows_passed_over=3)),  # a row told nowhere
        (rows(*range(2, 10)), TakenRows(rows_offered=10, rows_repeated=8, rows_passed_over=3)),  # a row told twice
        (rows(*range(2, 9)), TakenRows(rows_offered=9, rows_repeated=7, rows_passed_over=3)),  # a row never offered
        (rows(*range(2, 9)), TakenRows(rows_offered=10, rows_repeated=6, rows_passed_over=3)),  # a row without a value
    ],
)
def test_an_account_that_does_not_agree_refuses_the_file(used, taken):
    with pytest.raises(FileRefused) as trouble:
        check_rows(TABLE, 0, used, taken)
    assert trouble.value.code == "rows_unaccounted"


def test_a_reader_that_loses_a_row_hands_nothing_on(tmp_path, monkeypatch):
    path = tmp_path / "t.csv"
    path.write_bytes(Variant("r").data())
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.readings.height == 500
    real = table_reader.glucose_rows

    def one_lost(taken_rows, part):
        values, repeated = real(taken_rows, part)
        return values.head(-1), repeated

    monkeypatch.setattr(table_reader, "glucose_rows", one_lost)
    with pytest.raises(FileRefused) as trouble:
        read_file(path, PERSON, now_utc=NOW)
    assert trouble.value.code == "rows_unaccounted"
    assert row_account.check_rows is table_reader.check_rows


def test_rows_cut_short_before_the_amount_are_set_aside_not_a_fault(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("time,source,amount\n2026-03-13 10:00,tablets\n2026-03-13 11:00,tablets\n")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.doses.height + len(batch.quarantine) == 2


def test_a_table_wider_in_its_header_than_in_its_rows_has_all_its_columns():
    assert cells_of([(2, ("a",))], 3).columns == ["row", "0", "1", "2"]
    assert replace(TABLE, cells=cells_of([(2, ("a",))], 2)).column("glucose") == "1"


@pytest.mark.parametrize("grams", ["1" + "9" * 41, "0.0000001", "-3"])
def test_grams_beyond_all_measure_are_set_aside_and_never_read_as_two_numbers(grams, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(f"time,grams,form\n2026-03-14 02:10,{grams},tablet\n2026-03-14 02:25,4,tablet\n")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.doses["grams"].to_list() == [4.0]
    assert [one.trouble.code for one in batch.quarantine] == ["amount_implausible"]
