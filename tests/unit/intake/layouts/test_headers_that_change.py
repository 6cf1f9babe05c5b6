"""Headers and lines above a table that make other amounts or times of its rows are asked about, never passed by."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from support.variants import NOW

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import FileWaits, read_file

SINCE = date(2016, 4, 2)
CANDY = Source("candy", Form.TABLET, grams_per_piece=3, stated_as=StatedAs.ANHYDROUS,
               other_names=("Stück", "Traubenzucker"))  # fmt: skip
MIRA = Person("mira", SINCE, Dated(((SINCE, ZoneInfo("Europe/Berlin")),)), name="Mira",
              sources=Dated(((SINCE, (CANDY,)),)))  # fmt: skip


def read(tmp_path, text: str):
    path = tmp_path / "log.csv"
    path.write_text(text, "utf-8")
    (batch,) = read_file(path, MIRA, now_utc=NOW)
    return batch


def waits(tmp_path, text: str, code: str | None = None) -> str:
    with pytest.raises(FileWaits) as why:
        read(tmp_path, text)
    assert code is None or why.value.code == code
    return str(why.value)


@pytest.mark.parametrize("header", ["grams of product", "product (g)", "Gramm Produkt", "Produkt (g)"])
def test_grams_of_the_product_are_no_grams_of_glucose(header, tmp_path):
    rows = "2026-03-13 02:10,candy,6\n2026-03-14 02:40,candy,4.5\n"
    assert "product" in waits(tmp_path, f"time,source,{header}\n{rows}", "glucose_or_product")


@pytest.mark.parametrize("header", ["part", "share", "Anteil", "Teil", "percent", "%", "fraction"])
@pytest.mark.parametrize("half", ["1/2", "0.5"])
def test_a_share_of_the_amount_is_asked_about(header, half, tmp_path):
    rows = f"2026-03-13 02:10,candy,2,{half}\n2026-03-14 02:40,candy,2,1\n"
    assert header in waits(tmp_path, f"time,source,pieces,{header}\n{rows}")


@pytest.mark.parametrize("header", ["Rest", "Reste", "left", "left over", "leftover", "remaining", "übrig",
                                    "Rest im Becher"])  # fmt: skip
def test_what_was_left_over_of_the_amount_is_asked_about(header, tmp_path):
    rows = "13.03.2026;02:10;Traubenzucker;2;1\n14.03.2026;02:40;Traubenzucker;2;0\n"
    assert header in waits(tmp_path, f"Datum;Uhrzeit;Was;Menge;{header}\n{rows}")


@pytest.mark.parametrize(("header", "cell"), [("Rest", "0"), ("part", "1"), ("percent", "100"), ("battery left", "70")])
def test_a_column_that_takes_nothing_off_the_amount_is_passed_over(header, cell, tmp_path):
    rows = f"2026-03-13 02:10,candy,2,{cell}\n2026-03-14 02:40,candy,1,{cell}\n"
    assert read(tmp_path, f"time,source,pieces,{header}\n{rows}").doses["grams"].to_list() == [6.0, 3.0]


@pytest.mark.parametrize("header", ["pieces total", "total pieces", "Stück gesamt", "Summe Stück", "running total",
                                    "cumulative pieces"])  # fmt: skip
def test_a_running_sum_is_no_amount(header, tmp_path):
    waits(tmp_path, f"time,source,{header}\n2026-03-13 02:10,candy,2\n2026-03-13 02:40,candy,3\n")


@pytest.mark.parametrize("header", ["Nacht vom", "night of", "Nacht", "nuit du"])
def test_the_night_as_a_day_waits_and_says_so(header, tmp_path):
    told = waits(tmp_path, f"{header};Uhrzeit;Was;Menge\n13.03.2026;23:10;Traubenzucker;2\n"
                           "13.03.2026;02:40;Traubenzucker;1\n", "night_open")  # fmt: skip
    assert "times before noon may be of the next day" in told


@pytest.mark.parametrize("header", ["eingetragen um", "entered at", "written down at", "notiert um", "logged at",
                                    "aufgeschrieben", "time entered", "saisi à"])  # fmt: skip
@pytest.mark.parametrize("apart", [True, False])
def test_when_it_was_written_down_is_not_when_it_was_given(header, apart, tmp_path):
    if apart:
        text = f"Datum;{header};Was;Menge\n13.03.2026;22:30;Traubenzucker;2\n14.03.2026;07:15;Traubenzucker;1\n"
    else:
        text = f"{header};Was;Menge\n13.03.2026 22:30;Traubenzucker;2\n14.03.2026 07:15;Traubenzucker;1\n"
    assert header in waits(tmp_path, text, "clock_open")


def test_when_it_was_written_down_beside_when_it_was_given_changes_nothing(tmp_path):
    batch = read(tmp_path, "Datum;Uhrzeit;eingetragen um;Was;Menge\n13.03.2026;22:30;07:15;Traubenzucker;2\n"
                           "14.03.2026;02:10;07:15;Traubenzucker;1\n")  # fmt: skip
    assert [f"{at:%H:%M}" for at in batch.doses["taken_at_utc"]] == ["21:30", "01:10"]


ROWS = "Datum;Uhrzeit;Was;Stück\n13.03.2026;02:10;Traubenzucker;2\n14.03.2026;02:40;Traubenzucker;1\n"


@pytest.mark.parametrize("line", [
    "1 Stück = 5 g", "Stück à 5 g", "Traubenzucker (5 g pro Stück)", "2 Stück = 10 g", "1 piece holds 5 g of glucose",
    "1 Stk. = 5 g", "je Stück 5 g", "5000 mg per tablet",
])  # fmt: skip
def test_a_line_that_states_another_strength_makes_the_table_wait(line, tmp_path):
    told = waits(tmp_path, f"{line}\n{ROWS}", "strength_contradicts")
    assert "5 g" in told
    assert "3 g" in told


@pytest.mark.parametrize("line", [
    "1 Stück = 3 g", "2 Stück = 6 g", "Traubenzucker à 3 g", "3 g per piece", "1 BE = 12 g", "Gewicht 31 kg",
    "100 ml = 25 g", "1 KE = 10 g Kohlenhydrate",
])  # fmt: skip
def test_a_line_that_states_the_same_strength_or_another_thing_is_read(line, tmp_path):
    assert read(tmp_path, f"{line}\n{ROWS}").doses["grams"].to_list() == [6.0, 3.0]


def aside(batch) -> list[tuple[int, str]]:
    return [(one.trouble.row, one.trouble.code) for one in batch.quarantine]


@pytest.mark.parametrize("head", ["date,time,pieces,source\n3/11/2026,2:10 AM,2,candy\n3/13/2026,2:40,2,candy\n"
                                  "3/14/2026,3:05 PM,2,candy\n",
                                  "time,pieces,source\n3/11/2026 2:10 AM,2,candy\n3/13/2026 2:40,2,candy\n"
                                  "3/14/2026 3:05 PM,2,candy\n"])  # fmt: skip
def test_a_time_without_am_or_pm_among_others_with_it_is_set_aside(head, tmp_path):
    batch = read(tmp_path, head)
    assert aside(batch) == [(3, "half_day_missing")]
    assert batch.doses.height == 2


def test_hours_beyond_twelve_prove_that_unmarked_times_have_24_hours(tmp_path):
    batch = read(tmp_path, "date,time,pieces,source\n3/11/2026,2:10 AM,2,candy\n3/13/2026,2:40,2,candy\n"
                           "3/14/2026,15:05,2,candy\n")  # fmt: skip
    assert aside(batch) == []
    assert batch.doses.height == 3


@pytest.mark.parametrize("text", [
    "Tag;Datum;Uhrzeit;Was;Menge\nMo;13.03.2026;02:10;Traubenzucker;2\nSa;14.03.2026;02:10;Traubenzucker;1\n",
    "Datum;Wochentag;Uhrzeit;Was;Menge\n13.03.2026;Montag;02:10;Traubenzucker;2\n"
    "14.03.2026;Samstag;02:10;Traubenzucker;1\n",
    "Datum;Uhrzeit;Was;Menge\nMo 13.03.2026;02:10;Traubenzucker;2\nSa 14.03.2026;02:10;Traubenzucker;1\n",
    "time,pieces,source\nThu Mar 13 2026 02:10,2,candy\nSat Mar 14 2026 02:10,1,candy\n",
    "day,date,time,source,pieces\nThu,2026-03-13,02:10,candy,2\nSat,2026-03-14,02:10,candy,1\n",
])  # fmt: skip
def test_a_weekday_that_contradicts_the_date_sets_its_row_aside(text, tmp_path):
    batch = read(tmp_path, text)
    assert aside(batch) == [(2, "weekday_contradicts")]
    assert batch.doses["grams"].to_list() == [3.0]


@pytest.mark.parametrize(("one", "other"), [("Fr", "Sa"), ("Freitag", "Samstag"), ("Fri", "Sat"), ("vendredi", "sam.")])
def test_weekdays_that_agree_are_read(one, other, tmp_path):
    batch = read(tmp_path, f"Tag;Datum;Uhrzeit;Was;Menge\n{one};13.03.2026;02:10;Traubenzucker;2\n"
                           f"{other};14.03.2026;02:10;Traubenzucker;1\n")  # fmt: skip
    assert aside(batch) == []
    assert batch.doses.height == 2


def test_rows_that_carry_a_doubtful_day_down_are_set_aside_with_it(tmp_path):
    batch = read(tmp_path, "Datum;Uhrzeit;Was;Menge\nMo 13.03.2026;02:10;Traubenzucker;2\n;03:10;Traubenzucker;2\n"
                           "Sa 14.03.2026;02:10;Traubenzucker;1\n")  # fmt: skip
    assert aside(batch) == [(2, "weekday_contradicts"), (3, "weekday_contradicts")]
    assert batch.doses["grams"].to_list() == [3.0]
