"""Tables of glucose given, insulin, food, weights and rows of several kinds, recognised by what they prove."""

from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from support.variants import BERLIN, MMOL, NOW, PERSON, TRUTH

from gramrise.connectors.shelf import read_layout
from gramrise.domain.person import Dated
from gramrise.intake import FileWaits, read_file, recognise


def read(tmp_path, text: str):
    path = tmp_path / "t.csv"
    path.write_text(text, "utf-8")
    return read_file(path, PERSON, now_utc=NOW)


def rows(cells) -> str:
    """One line a reading of the invented trace; `cells` makes the line's text from local time, mg/dL and index."""
    return "".join(cells(at.astimezone(BERLIN), level, index) + "\n" for index, (at, level) in enumerate(TRUTH))


@pytest.mark.parametrize(
    "text",
    [
        "Datum;Uhrzeit;Menge\n13.03.2026;02:10;3 Stück\n14.03.2026;03:10;15 ml\n",
        "Fecha;Hora;Cantidad\n13/03/2026;02:10;3 pastillas\n14/03/2026;03:10;15 ml\n",
        "Date;Heure;Quantité\n13/03/2026;02:10;3 comprimés\n14/03/2026;03:10;15 ml\n",
        "When,Given\n2026-03-13 02:10,3 pieces\n2026-03-14 03:10,15 ml\n",
        "2026-03-13 02:10;3 pieces\n2026-03-14 03:10;15 ml\n",
        "When,Source,Amount,By\n2026-03-13 02:10,tablets,3,Ann\n2026-03-14 03:10,night bottle,15,Ben\n",
        "When;Glucose (g)\n13.03.2026 02:10;12\n14.03.2026 03:10;3,75\n",
        "When;Traubenzucker (g)\n13.03.2026 02:10;12\n14.03.2026 03:10;3,75\n",
    ],
)
def test_glucose_given_is_recognised_in_many_hands(text, tmp_path):
    (batch,) = read(tmp_path, text)
    assert batch.doses["grams"].to_list() == [12.0, 3.75]
    assert batch.doses["taken_at_utc"].to_list() == [
        datetime(2026, 3, 13, 1, 10, tzinfo=UTC), datetime(2026, 3, 14, 2, 10, tzinfo=UTC),
    ]  # fmt: skip
    assert batch.questions == ()


def test_a_bare_number_under_glucose_given_is_asked_row_by_row(tmp_path):
    (batch,) = read(tmp_path, "When;Glucose given\n2026-03-13 02:10;3\n2026-03-14 03:10;15\n")
    assert [question.kind for question in batch.questions] == ["bare_amount", "bare_amount"]
    assert batch.doses["grams"].null_count() == 2


def test_one_row_may_hold_a_reading_insulin_food_and_a_remark(tmp_path):
    def line(at, level, index):
        beside = "2,5;45;3 Stück Traubenzucker" if index == 10 else ";;"
        return f"{at:%d.%m.%Y;%H:%M};{level:.0f};{beside}"

    (batch,) = read(tmp_path, "Datum;Uhrzeit;Zucker (mg/dL);Insulin (IE);KH (g);Bemerkung\n" + rows(line))
    assert batch.readings.height == 500
    assert batch.events.select("kind", "amount").rows() == [("insulin", 2.5), ("food", 45.0)]
    assert batch.doses["grams"].to_list() == [12.0]


def test_food_without_a_unit_is_food_without_grams(tmp_path):
    text = "Time,Glucose (mg/dL),Carbs\n" + rows(
        lambda at, level, i: f"{at:%Y-%m-%d %H:%M},{level:.0f},{4 if i == 7 else ''}"
    )
    (batch,) = read(tmp_path, text)
    assert batch.events.select("kind", "amount").rows() == [("food", None)]


def test_rows_of_several_kinds_are_told_apart_by_their_word(tmp_path):
    def line(at, level, index):
        return f"{at:%d.%m.%Y %H:%M};{'finger' if index % 10 == 0 else 'sensor'};{level / MMOL:.1f}".replace(
            ".", ",", 0
        )

    (batch,) = read(tmp_path, "Time;Type;Value (mmol/L)\n" + rows(line))
    assert (batch.readings.height, batch.fingers.height) == (450, 50)


def test_what_a_column_is_not_is_passed_over(tmp_path):
    header = "Time,Glucose (mg/dL),Insulin on board,Glucose change (mg/dL),Basal rate (U)\n"
    (batch,) = read(tmp_path, header + rows(lambda at, level, _: f"{at:%Y-%m-%d %H:%M},{level:.0f},1.5,-3,0.8"))
    assert batch.readings.height == 500
    assert batch.events.height == 0


def test_long_insulin_is_not_taken_for_rapid(tmp_path):
    (batch,) = read(tmp_path, "Time,Bolus,Basal\n2026-03-13 10:00,2,9\n2026-03-13 22:00,0,9\n")
    assert batch.events.select("kind", "amount").rows() == [("insulin", 2.0)]


@pytest.mark.parametrize(
    ("header", "kg"), [("Gewicht (kg)", 30.2), ("Weight (lb)", 13.7), ("Poids (kg)", 30.2), ("Peso (kg)", 30.2)]
)
def test_weights_are_recognised_with_their_unit(header, kg, tmp_path):
    (batch,) = read(tmp_path, f"Datum;{header}\n13.03.2026;30,2\n14.03.2026;30,3\n")
    assert batch.weights["kg"][0] == pytest.approx(kg, abs=0.01)


def test_a_weight_without_a_unit_waits(tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "Date;Weight\n2026-03-13;30,2\n")
    assert waits.value.code == "weight_unit_open"


def test_a_mark_that_may_part_thousands_waits(tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "Date;Weight (kg)\n2026-03-13;30.250\n2026-03-14;30.150\n")
    assert waits.value.code == "decimal_open"
    assert waits.value.lines == ('decimal = "."', 'thousands = "."')


def test_the_day_above_holds_where_a_day_is_left_empty(tmp_path):
    days = set()

    def line(at, level, _index):
        day = "" if at.date() in days else f"{at:%d.%m.%Y}"
        days.add(at.date())
        return f"{day};{at:%H:%M};{level:.0f}"

    (batch,) = read(tmp_path, "Datum;Uhr;Zucker (mg/dL)\n" + rows(line))
    assert batch.readings["at_utc"].to_list() == [at for at, _ in TRUTH]


def test_among_remarks_grams_of_nothing_named_are_no_glucose_given(tmp_path):
    told = ["Lasagne 60 g", "12 g", "4 IE", "12 g Traubenzucker", "Kakao 200 ml", "3 Stück"]
    text = "Tag;Uhr;Zucker (mg/dL);Bemerkung\n" + "".join(
        f"13.03.2026;10:{5 * at:02d};100;{remark}\n" for at, remark in enumerate(told)
    )
    (batch,) = read(tmp_path, text)
    assert batch.doses["grams"].to_list() == [12.0, None, 12.0]
    assert batch.events["text"].to_list() == ["Lasagne 60 g", "12 g", "4 IE"]
    assert [question.kind for question in batch.questions] == ["unknown_source"]


def test_food_in_words_is_food_without_grams_whatever_its_numbers(tmp_path):
    (batch,) = read(tmp_path, "Time,Meal\n2026-03-13 10:00,Lasagne 60 g\n2026-03-13 12:00,2 pieces of bread\n")
    assert batch.events.select("kind", "amount", "text").rows() == [
        ("food", None, "Lasagne 60 g"), ("food", None, "2 pieces of bread"),
    ]  # fmt: skip
    assert batch.doses.height == 0


def test_a_remark_in_the_middle_of_a_table_begins_no_other_table(tmp_path):
    head = "Tag;Uhr;Zucker (mg/dL);Bemerkung\n13.03.2026;10:00;100;\n"
    (batch,) = read(tmp_path, head + "Urlaub;Tag 1 am Meer;;\n13.03.2026;10:05;101;\n14.03.2026;10:05;102;\n")
    assert batch.readings.height == 3
    assert (batch.rows_offered, batch.rows_passed_over, len(batch.quarantine)) == (4, 0, 1)  # set aside by name


@pytest.mark.parametrize(
    ("text", "kind", "amounts"),
    [
        ("Time,Insulin (U)\n2026-03-13 10:00,2.5 U\n2026-03-13 11:00,3\n", "insulin", [2.5, 3.0]),
        ("Time,Carbs (g)\n2026-03-13 10:00,45 g\n2026-03-13 12:00,50 g\n", "food", [45.0, 50.0]),
    ],
)
def test_a_unit_behind_a_number_is_no_hindrance(text, kind, amounts, tmp_path):
    (batch,) = read(tmp_path, text)
    assert batch.events.select("kind", "amount").rows() == [(kind, amount) for amount in amounts]


def test_pounds_in_a_column_of_kilograms_are_set_aside(tmp_path):
    (batch,) = read(tmp_path, "Date,Weight (kg)\n2026-03-13,30.1 kg\n2026-03-14,66.4 lb\n")
    assert batch.weights["kg"].to_list() == [30.1]
    assert [row.trouble.code for row in batch.quarantine] == ["not_a_number"]


def test_a_known_header_with_nothing_below_is_an_export_of_nothing(tmp_path):
    (batch,) = read(tmp_path, "time,glucose (mg/dL)\n")
    assert (batch.layout, batch.rows_offered, batch.readings.height) == ("readings", 0, 0)


def test_an_unknown_header_with_nothing_below_waits(tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "Time to go, home\n")
    assert waits.value.code == "nothing_found"


def test_a_column_that_names_the_source_is_heard_where_amounts_carry_their_unit(tmp_path):
    text = "Zeit;Quelle;Menge\n13.03.2026 02:10;Apfelsirup;20 ml\n14.03.2026 03:10;night bottle;15 ml\n"
    (batch,) = read(tmp_path, text)
    assert batch.doses.select("source", "amount", "amount_unit", "grams").rows() == [
        ("Apfelsirup", 20.0, "mL", None), ("night bottle", 15.0, "mL", 3.75),
    ]  # fmt: skip
    assert [question.kind for question in batch.questions] == ["unknown_source"]


def without_sources(tmp_path, name: str, text: str):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return read_file(path, replace(PERSON, sources=Dated()), now_utc=NOW)


LOG = [f"2026-03-{day} 02:10" for day in range(10, 14)]


@pytest.mark.parametrize(
    ("name", "text", "word"),
    [
        ("t.csv", "time,source,amount\n" + "".join(f"{at},glucose tab,3\n" for at in LOG), "'glucose tab'"),
        ("t.csv", "When;Given\n" + "".join(f"{at};20 ml\n" for at in LOG), "one mL"),
        ("t.csv", "Zeit;Quelle;Menge\n" + "".join(f"{at};Nachtflasche;20 ml\n" for at in LOG), "'Nachtflasche'"),
        ("t.csv", "When;Given\n" + "".join(f"{at};3\n" for at in LOG), "what its bare numbers count"),
        ("t.txt", "".join(f"{at} 3 pieces\n" for at in LOG), "one piece"),
    ],
)
def test_a_log_brought_before_its_sources_are_stated_waits_with_one_sentence(name, text, word, tmp_path):
    with pytest.raises(FileWaits, match="gramrise person source P1") as waits:
        without_sources(tmp_path, name, text)
    assert waits.value.code == "source_unstated"
    assert word in waits.value.what


def test_one_nights_note_is_taken_in_though_no_source_is_stated(tmp_path):
    (batch,) = without_sources(tmp_path, "t.txt", "2026-03-13\n02:10 3 pieces\n02:25 2 pieces\n")
    assert batch.doses["amount"].to_list() == [3.0, 2.0]
    assert len(batch.questions) == 2


def test_readings_never_wait_for_the_sources_of_remarks_beside_them(tmp_path):
    text = "Datum;Uhrzeit;Zucker (mg/dL);Bemerkung\n"
    text += "".join(f"13.03.2026;10:{5 * at:02d};{100 + at};3 Stück\n" for at in range(10))
    (batch,) = without_sources(tmp_path, "t.csv", text)
    assert (batch.readings.height, len(batch.questions)) == (10, 10)


def test_numbers_beside_a_word_nobody_knows_wait_and_say_how_to_state_it(tmp_path):
    with pytest.raises(FileWaits, match="gramrise person source P1 'glucose tab'") as waits:
        without_sources(tmp_path, "t.csv", "when,what,how many\n" + "".join(f"{at},glucose tab,3\n" for at in LOG))
    assert waits.value.code == "dose_kind_open"
    assert waits.value.lines[0] == 'kind = "doses"\namount = "how many"\nsource = "what"'


def test_a_header_nobody_understands_waits_and_names_both_kinds_of_header(tmp_path):
    with pytest.raises(FileWaits, match=r"time, source, amount.*gramrise layouts FILE") as waits:
        read(tmp_path, "data;godzina;ile\n" + "".join(f"{at[:10]};{at[11:]};3\n" for at in LOG))
    assert waits.value.code == "no_meaning"


DIARY = """Time;Type;Value;Unit
20.03.2026 08:00;Glucose;65;mg/dL
20.03.2026 08:02;Glucose tablets;20;g
20.03.2026 09:00;Carbs;30;g
20.03.2026 09:01;Bolus;2,5;U
20.03.2026 10:00;Exercise;30;min
20.03.2026 12:00;Glucose;111;mg/dL
"""


def diary(tmp_path, text: str):
    path = tmp_path / "diary.csv"
    path.write_text(text, "utf-8")
    return path


def test_glucose_tablets_among_rows_of_many_kinds_are_never_readings(tmp_path):
    (seen,) = recognise(diary(tmp_path, DIARY), PERSON, now_utc=NOW).tables
    (point,) = [point for point in seen.open if "Glucose tablets" in point.what]
    assert point.readings[0] == "glucose given: tablets, in piece"
    assert "Glucose tablets" not in seen.draft


def test_glucose_in_a_diary_is_not_taken_for_a_sensors_readings_by_its_name_alone(tmp_path):
    with pytest.raises(FileWaits, match="what rows of kind 'Glucose' are"):
        read_file(diary(tmp_path, DIARY), PERSON, now_utc=NOW)


def test_the_blocks_a_diary_waits_for_can_be_added_as_they_are_printed(tmp_path):
    path = diary(tmp_path, DIARY)
    (seen,) = recognise(path, PERSON, now_utc=NOW).tables
    (glucose, given) = seen.open
    chosen = dict(zip(glucose.readings, glucose.lines, strict=True))["finger-sticks"]
    grams = dict(zip(given.readings, given.lines, strict=True))["glucose given, in grams"]
    layout = read_layout("\n".join([seen.draft, chosen, grams]), "diary.toml")
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=(layout,), layout_name=layout.name)
    assert batch.readings.height == 0
    assert batch.fingers["glucose_mg_dl"].to_list() == [65.0, 111.0]
    assert batch.doses["grams"].to_list() == [20.0]
    assert sorted(batch.events["kind"].to_list()) == ["activity", "food", "insulin"]


def test_a_sensors_rows_among_other_kinds_are_told_by_their_pace(tmp_path):
    trace = "".join(f"20.03.2026 08:{at:02d};Glucose;{100 + at};mg/dL\n" for at in range(0, 60, 5))
    (batch,) = read(tmp_path, "Time;Type;Value;Unit\n" + trace + "20.03.2026 09:01;Bolus;2;U\n")
    assert batch.readings.height == 12


def test_amounts_with_a_point_and_a_comma_side_by_side_are_both_read(tmp_path):
    text = "time;source;amount\n2026-03-13 02:10;tablets;1.5\n2026-03-14 02:10;tablets;2,5\n"
    (batch,) = read(tmp_path, text)
    assert batch.doses["grams"].to_list() == [6.0, 10.0]


@pytest.mark.parametrize("amount", ["-2", "- 2 pieces", "\u22122", "-.5 g"])
def test_less_than_nothing_is_set_aside_and_never_read_as_something(amount, tmp_path):
    text = f"time,source,amount\n2026-03-13 02:10,tablets,{amount}\n2026-03-14 02:10,tablets,3\n"
    (batch,) = read(tmp_path, text)
    assert batch.doses["grams"].to_list() == [12.0]
    assert [row.trouble.code for row in batch.quarantine] == ["amount_negative"]


def test_a_dash_between_time_and_amount_of_a_note_is_no_minus(tmp_path):
    path = tmp_path / "note.txt"
    path.write_text("2026-03-13\n02:10 - 3 pieces\n- 02:30 2 pieces\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.doses["grams"].to_list() == [12.0, 8.0]


@pytest.mark.parametrize(
    ("written", "slip"),
    [
        (lambda at: f"{at:%Y-%m-%dT%H:%M:%SZ}", "20-6-03-13T10:00:00Z"),
        (lambda at: f"{at:%Y-%m-%dT%H:%M:%SZ}", "2.26-03-13T10:00:00Z"),
        (lambda at: f"{at:%Y-%m-%dT%H:%M:%SZ}", "03.04.26 10:00"),
        (lambda at: str(int(at.timestamp())), "177338"),
        (lambda at: str(int(at.timestamp() * 1000)), "17733840OOOOO"),
    ],
)
def test_one_damaged_time_costs_its_row_and_not_the_file(written, slip, tmp_path):
    lines = [f"{written(at)},{level:.0f}" for at, level in TRUTH[:60]]
    lines[30] = f"{slip},100"
    (batch,) = read(tmp_path, "time,glucose (mg/dL)\n" + "\n".join(lines) + "\n")
    assert batch.readings.height == 59
    assert [row.trouble.row for row in batch.quarantine] == [32]


@pytest.mark.parametrize("above", ["Date,Time,Insulin (U)\n", ""])
def test_a_dotted_half_of_the_day_makes_no_note_of_a_table(above, tmp_path):
    text = above + "2026-03-13,7:30 a.m.,3\n2026-03-13,6:30 p.m.,4\n"
    found = None
    with suppress(FileWaits):
        (batch,) = read(tmp_path, text)
        found = (batch.doses.height, batch.events["amount"].to_list())
    assert found == (None if above == "" else (0, [3.0, 4.0]))  # without a header nothing says what the numbers are


@pytest.mark.parametrize("spans", [
    ("07:30-08:00", "12:00-13:00"), ("07:30-08:00", "09:00-10:00"), ("07:30+10:00", "12:00+11:30"), ("07:30-08:00",),
])  # fmt: skip
def test_spans_of_time_are_no_offsets(spans, tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "When,Given\n" + "".join(f"2026-03-13 {span},3 pieces\n" for span in spans))
    assert waits.value.code in {"span_or_offset", "no_clock"}


@pytest.mark.parametrize("span", ["07:30-07:45", "07:30+10", "07:30-10", "08:00-08:30", "07:30-08", "07:30-08:00"])
def test_a_span_in_a_single_cell_is_set_aside(span, tmp_path):
    plain = "".join(f"2026-03-{day} 02:10,3 pieces\n" for day in (10, 11, 12))
    (batch,) = read(tmp_path, f"When,Given\n{plain}2026-03-13 {span},3 pieces\n")
    assert batch.doses.height == 3
    assert [one.trouble.code for one in batch.quarantine] == ["not_a_time"]


def test_offsets_that_are_the_same_all_day_are_offsets(tmp_path):
    (batch,) = read(tmp_path, "When,Given\n2026-03-13 07:30-05:00,3 pieces\n2026-03-13 17:30-05:00,3 pieces\n")
    assert [at.hour for at in batch.doses["taken_at_utc"]] == [12, 22]


@pytest.mark.parametrize(("label", "cells"), [("DST", "01"), ("DST", "11"), ("Offset", ["5", "-5"]), ("Zone", "23")])
def test_bare_numbers_are_not_taken_for_offsets(label, cells, tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, f"When,{label},Given\n" + "".join(f"2026-03-13 07:3{at},{cell},3 pieces\n"
                                                         for at, cell in enumerate(cells)))  # fmt: skip
    assert waits.value.code == "offset_open"
    assert "in hours" in " ".join(waits.value.readings)


def test_hours_of_utc_offset_are_offsets(tmp_path):
    (batch,) = read(tmp_path, "When,UTC offset,Given\n2026-03-13 07:30,2,3 pieces\n2026-03-13 08:30,2,3 pieces\n")
    assert [at.hour for at in batch.doses["taken_at_utc"]] == [5, 6]


def given_log(header: str, rows: list[str]) -> str:
    return f"{header}\n" + "".join(f"2026-03-{12 + at} 02:10,{row}\n" for at, row in enumerate(rows))


def test_who_noticed_is_read_from_a_column_of_its_own(tmp_path):
    told = ["sensor", "child", "Mum", "?", "selbst"]
    text = given_log("Time,source,amount,Noticed by", [f"tablets,3,{who}" for who in told])
    (batch,) = read(tmp_path, text)
    assert batch.doses["noticed"].to_list() == ["sensor", "child", "adult", "", "child"]
    assert batch.readings.height == 0


def test_who_noticed_is_passed_over_where_nothing_was_given(tmp_path):
    text = "Time,Glucose (mg/dL),Noticed by\n" + "".join(f"2026-03-12 02:{at:02d},{70 + at},child\n" for at in range(9))
    (batch,) = read(tmp_path, text)
    assert batch.readings.height == 9
    assert batch.doses.height == 0


@pytest.mark.parametrize("header", ["Pieces of tablets", "Tablets eaten", "Tablets"])
def test_a_header_that_names_the_source_says_what_its_numbers_count(header, tmp_path):
    (batch,) = read(tmp_path, given_log(f"Time,{header}", ["3", "2"]))
    assert batch.doses["grams"].to_list() == [12.0, 8.0]


@pytest.mark.parametrize("header", ["Tablets left", "Tablets bought", "Tablets planned", "Tablets (mL)"])
def test_a_source_in_a_header_with_words_of_something_else_waits(header, tmp_path):
    with pytest.raises(FileWaits):
        read(tmp_path, given_log(f"Time,{header}", ["3", "2"]))


def test_bare_numbers_of_pieces_may_be_of_each_source_in_pieces(tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, given_log("Time,Amount in pieces", ["3", "2"]))
    assert "glucose given: tablets, in piece" in waits.value.readings


def test_a_family_word_beside_a_source_may_be_glucose_given_and_the_block_can_be_added_as_printed(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(given_log("when,what,amount", ["sugar,3", "tablets,2", "sugar,1"]), "utf-8")
    (seen,) = recognise(path, PERSON, now_utc=NOW).tables
    (point,) = seen.open
    assert "kind 'sugar'" in point.what
    pieces = dict(zip(point.readings, point.lines, strict=True))["glucose given: tablets, in piece"]
    layout = read_layout("\n".join([seen.draft, pieces]), "log.toml")
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=(layout,), layout_name=layout.name)
    assert sorted(batch.doses["grams"].to_list()) == [4.0, 8.0, 12.0]
    assert batch.readings.height == 0


@pytest.mark.parametrize("header", ["grams", "amount (g)", "Menge (g)"])
def test_a_header_of_grams_is_one_of_grams_whatever_else_stands_in_its_cells(header, tmp_path):
    (batch,) = read(
        tmp_path, given_log(f"time,source,{header}", ["tablets,3", "tablets,~4", "tablets,ca. 5", "tablets,1 piece"])
    )
    assert batch.doses["grams"].to_list() == [3.0, 4.0, 5.0, None]
    assert [question.kind for question in batch.questions] == ["unclear_amount"]


def test_a_comma_in_one_note_costs_its_row_alone(tmp_path):
    rows = "".join(f"2026-03-12T10:{at}:00+01:00,1{at},ok\n" for at in range(10, 60))
    (batch,) = read(tmp_path, f"time,glucose (mg/dL),note\n{rows}2026-03-12T11:00:00+01:00,55,felt low, 3 pieces\n")
    assert batch.readings.height == 50
    assert [held.trouble.code for held in batch.quarantine] == ["too_many_cells"]


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("time,source,grams", [3.0, 4.0]),
        ("time,what was given,grams", [3.0, 4.0]),
        ("time,what was given,amount", [12.0, 16.0]),
        ("time,given,pieces", [12.0, 16.0]),
    ],
)
def test_a_column_of_sources_says_of_what_the_amounts_beside_it_are(header, expected, tmp_path):
    (batch,) = read(tmp_path, given_log(header, ["tablets,3", "tablets,4"]))
    assert batch.doses["grams"].to_list() == expected
    assert set(batch.doses["source"]) == {"tablets"}


OTHER_AMOUNTS = (
    *("nur die Hälfte", "runtergefallen", "nicht 2 sondern 3", "Korrektur: 3", "dann noch eins", "blieb liegen"),
    *("wurde nicht gegessen", "hat sie nicht gewollt", "weiß nicht wie viele", "kam wieder raus", "Zuckerfreie"),
    *("waren die großen (4 g)", "g oder Stück?", "Doppelt", "schon oben", "half", "should be 3", "actually 3"),
    *("3 not 2", "maybe 3", "did not eat it", "left it", "offered but asleep", "ignore", "sugar free", "for tomorrow"),
)
HARMLESS = (
    *("woke at 62", "keine Symptome", "not felt", "62 -> 95", "rechecked 02:25: 95", "15 min later 95"),
    *(
        "half asleep",
        "half an hour later 95",
        "im Halbschlaf",
        "did not wake up",
        "gestern viel Sport",
        "low again at 3:10",
        "hat Hunger",
        "war müde",
        "kein Insulin",
        "no juice",
        "needed rest",
    ),
)


@pytest.mark.parametrize("remark", OTHER_AMOUNTS)
def test_a_remark_of_another_amount_or_of_none_sets_its_row_aside(remark, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,"]))
    assert batch.doses["grams"].drop_nulls().to_list() == [12.0]
    assert "remark_other_amount" in [held.trouble.code for held in batch.quarantine]


NOT_GIVEN_SO = ("sum", "Tagesmenge", "Summe", "total", "Gesamt", "plan", "leftover", "carried", "estimate", "goal",
                "sum of the night", "Übertrag", "Soll", "example", "geschätzt")  # fmt: skip


@pytest.mark.parametrize("remark", NOT_GIVEN_SO)
def test_a_row_whose_remark_says_that_it_is_a_total_a_plan_or_a_rest_is_set_aside(remark, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,"]))
    assert batch.doses["grams"].to_list() == [12.0]
    assert [held.trouble.code for held in batch.quarantine] == ["remark_other_amount"]


@pytest.mark.parametrize("remark", ["total müde", "laut Plan", "as per plan", "total verschwitzt", "needed rest"])
def test_a_remark_of_how_tired_or_how_agreed_it_was_sets_nothing_aside(remark, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,"]))
    assert batch.doses["grams"].to_list() == [12.0, 12.0]


OTHER_TIMES = ("war eigentlich gestern", "war um 1:10", "erst um 2:30", "yesterday", "was at 1:10")


OTHERS = ("hat Tom bekommen", "das war Tom", "it was Tom", "von Tom gegessen", "eaten by Tom")


@pytest.mark.parametrize(
    ("remark", "code"),
    [*((remark, "remark_other_time") for remark in OTHER_TIMES), *((remark, "another_person") for remark in OTHERS)],
)
def test_a_remark_of_another_time_or_eater_sets_its_row_aside(remark, code, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,"]))
    assert batch.doses["grams"].to_list() == [12.0]
    assert [held.trouble.code for held in batch.quarantine] == [code]


@pytest.mark.parametrize("remark", HARMLESS)
def test_a_remark_of_other_things_sets_nothing_aside(remark, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,"]))
    assert batch.doses["grams"].to_list() == [12.0, 12.0]


@pytest.mark.parametrize(
    ("rows", "grams", "held"),
    [
        ("12.03.2026;22:30;2\n;00:15;1\n;00:40;1\n13.03.2026;02:40;2\n", [8.0, 8.0], ["day_open", "day_open"]),
        ("12.03.2026;22:30;2\n;23:15;1\n13.03.2026;02:40;2\n", [8.0, 4.0, 8.0], []),
        ("13.03.2026;02:40;2\n12.03.2026;22:30;2\n;21:15;1\n", [8.0, 8.0, 4.0], []),
        ("13.03.2026;02:40;2\n12.03.2026;22:30;2\n;23:15;1\n", [8.0, 8.0], ["day_open"]),
    ],
)
def test_a_row_below_a_day_that_turns_back_may_be_of_the_next(rows, grams, held, tmp_path):
    (batch,) = read(tmp_path, f"Datum;Uhrzeit;tablets\n{rows}")
    assert sorted(batch.doses["grams"].to_list()) == sorted(grams)
    assert [each.trouble.code for each in batch.quarantine] == held


def test_a_slip_into_the_future_makes_no_month_of_a_day_with_dots(tmp_path):
    text = "Datum;Uhrzeit;tablets\n2026-03-10;02:40;2\n2026-03-11;02:40;2\n11.12.2026;02:40;2\n"
    (batch,) = read(tmp_path, text)
    assert [each.trouble.code for each in batch.quarantine] == ["time_out_of_range"]


@pytest.mark.parametrize("remark", ["ate only 1", "gave 2", "dropped one", "plus 10 ml", "nur 1 gegessen"])
def test_a_remark_that_names_another_amount_sets_its_row_aside(remark, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces,note", [f"tablets,3,{remark}", "tablets,3,woke at 62"]))
    # Where the remark is an amount itself, that is asked about.
    assert batch.doses["grams"].drop_nulls().to_list() == [12.0]
    assert [held.trouble.code for held in batch.quarantine] == ["remark_other_amount"]


@pytest.mark.parametrize("cell", ["01. Feb", "5.11.", "2 (8)", "2 + 8"])
def test_a_cell_of_pieces_that_is_no_one_number_is_one_amount_and_asked_about(cell, tmp_path):
    (batch,) = read(tmp_path, given_log("time,source,pieces", [f"tablets,{cell}", "tablets,1 1/2", "tablets,1½"]))
    assert batch.doses["grams"].to_list() == [None, 6.0, 6.0]
    assert len(batch.questions) == 1


@pytest.mark.parametrize(
    ("label", "cells", "waits"),
    [
        ("times", (2, 1, 3), True),
        ("mal", (2, 1, 3), True),
        ("number", (2, 1, 2), True),
        ("number", (1, 2, 3), False),
        ("number", (3, 2, 1), False),
        ("times", (1, 1, 1), False),
    ],
)
def test_a_column_that_may_say_how_often_an_amount_was_given_is_asked_about(tmp_path, label, cells, waits):
    rows = "".join(f"2026-03-1{day} 02:10,3,{cell}\n" for day, cell in enumerate(cells, 1))
    (tmp_path / "t.csv").write_text(f"time,tablets,{label}\n{rows}")
    if waits:
        with pytest.raises(FileWaits) as found:
            read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
        assert "factor_open" in str(found.value.code)
    else:
        (batch,) = read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
        assert batch.doses["amount"].to_list() == [3.0, 3.0, 3.0]


@pytest.mark.parametrize(
    ("label", "waits"),
    [("gel (g)", True), ("glucose gel g", True), ("juice (g)", True), ("glucose given (g)", False), ("grams", False)],
)
def test_grams_of_a_gel_or_a_drink_are_not_taken_for_grams_of_glucose(tmp_path, label, waits):
    (tmp_path / "t.csv").write_text(f"time,{label},form\n2026-03-11 02:10,10,gel\n2026-03-12 02:10,5,gel\n")
    if waits:
        with pytest.raises(FileWaits):
            read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
    else:
        (batch,) = read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
        assert batch.doses["grams"].to_list() == [10.0, 5.0]


@pytest.mark.parametrize(("cells", "waits"), [(("Mama", "Papa", "Oma", "Schule"), False), (("Mama", "Tom"), True)])
def test_a_column_of_adults_says_who_gave_it_and_holds_nothing(cells, waits, tmp_path):
    text = given_log("time,source,amount,Wer", [f"tablets,3,{who}" for who in cells])
    if waits:
        with pytest.raises(FileWaits):
            read(tmp_path, text)
    else:
        (batch,) = read(tmp_path, text)
        assert batch.doses["grams"].to_list() == [12.0] * len(cells)


@pytest.mark.parametrize("unit", ["mmol/L", "mg/dL"])
@pytest.mark.parametrize("filled", [0, 20, 39])
def test_a_blank_unit_is_the_headers_where_a_column_of_units_is_filled_in_one_row_alone(unit, filled, tmp_path):
    """19 mmol/L, 342 mg/dL, once landed as 19 mg/dL: a severe low that was a severe high."""
    values = [(19.0 + at % 5 / 10) if unit == "mmol/L" else 342 + at % 5 for at in range(40)]
    rows = [f"2026-03-13 {1 + at // 12:02d}:{at % 12 * 5:02d},{value},{unit if at == filled else ''}"
            for at, value in enumerate(values)]  # fmt: skip
    (tmp_path / "t.csv").write_text(f"time,glucose ({unit}),unit\n" + "\n".join(rows) + "\n", "utf-8")
    (batch,) = read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
    assert batch.readings.height == 40
    assert batch.readings["glucose_mg_dl"].min() > 340
    assert batch.readings["glucose_mg_dl"].max() < 355


def test_a_blank_unit_waits_where_the_header_names_none(tmp_path):
    rows = [f"2026-03-13 01:{at * 5:02d},{19 + at / 10},{'mmol/L' if at == 3 else ''}" for at in range(12)]
    (tmp_path / "t.csv").write_text("time,glucose,unit\n" + "\n".join(rows) + "\n", "utf-8")
    with pytest.raises(FileWaits) as why:
        read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
    assert why.value.code == "unit_open"


@pytest.mark.parametrize("end", ["Z", "+01:00"])
@pytest.mark.parametrize("odd", [None, "2026-03-13T05:0x", "Total", "end of file"])
def test_a_morning_of_readings_with_its_offset_is_on_no_clock_of_twelve_hours(end, odd, tmp_path):
    """From 01:02 to 11:52; one damaged time made a whole file wait for am and pm."""
    times = [f"2026-03-13T{1 + (2 + 5 * at) // 60:02d}:{(2 + 5 * at) % 60:02d}{end}" for at in range(131)]
    if odd is not None:
        times[60] = odd
    rows = "".join(f"{time},{5.5 + at % 7 / 10:.1f}\n" for at, time in enumerate(times))
    (tmp_path / "t.csv").write_text("time,glucose (mmol/L)\n" + rows, "utf-8")
    (batch,) = read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
    assert (batch.readings.height, batch.rows_offered) == (131 - (odd is not None), 131)


def test_dates_whose_order_is_open_are_shown_by_one_that_can_be_read_in_two_ways(tmp_path):
    rows = ["2026-03-10 03:00", "2026-03-10 03:05", "2026-03-10 03:10", "10.03.2026 03:15", "03/10/2026 03:20"]
    (tmp_path / "t.csv").write_text("time,glucose (mg/dL)\n" + "".join(f"{at},120\n" for at in rows))
    with pytest.raises(FileWaits) as waits:
        read_file(tmp_path / "t.csv", PERSON, now_utc=datetime(2027, 1, 1, tzinfo=UTC))
    assert (waits.value.code, "'10.03.2026 03:15'" in str(waits.value)) == ("day_month_open", True)
    assert waits.value.readings == ("day, month, year: 10 March 2026", "month, day, year: 03 October 2026")
