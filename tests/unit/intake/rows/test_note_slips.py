"""Lines of a note that are not glucose given, or whose day is half said: each is named in words that help."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import read_file, read_note

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 26, 13, tzinfo=UTC)


@pytest.fixture
def mia():
    born = date(2016, 4, 2)
    candy = Source("candy", Form.TABLET, grams_per_piece=1.0, stated_as=StatedAs.ANHYDROUS)
    return Person("mia", born, Dated(((born, BERLIN),)), sources=Dated(((born, (candy,)),)))


def note(tmp_path, person, text, saved=None):
    import os

    file = tmp_path / "note.txt"
    file.write_text(text, "utf-8")
    at = (saved or NOW).timestamp()
    os.utime(file, (at, at))
    return read_file(file, person, now_utc=NOW)[0]


def codes(batch):
    return [(held.trouble.row, held.trouble.code) for held in batch.quarantine]


@pytest.mark.parametrize(
    "line",
    [
        "26.11. 01:15 2 Stück",
        "26.11 01:15 2 Stück",
        "Do 26.11. 01:15 2 Stück",
        "26 Nov 01:15 2 pieces",
        "11/10 1:15 2 pieces",
    ],
)
def test_a_date_without_its_year_is_named_as_that_and_nothing_is_logged(tmp_path, mia, line):
    batch = note(tmp_path, mia, f"2026-11-25\n23:10 3 Stück\n{line}\n")
    assert codes(batch) == [(3, "no_year")]
    assert "with its year" in batch.quarantine[0].trouble.mend
    assert batch.doses["grams"].to_list() == [3.0]


def test_a_time_written_with_a_full_stop_is_no_date(tmp_path, mia):
    batch = note(tmp_path, mia, "2026-11-25\n21.10 3 Stück\n22.40 2 Stück\n")
    assert codes(batch) == []
    assert batch.doses["grams"].to_list() == [3.0, 2.0]


@pytest.mark.parametrize("line", ["noch drin", "noch drin: 7 Stück", "7 pieces remaining"])
def test_what_is_left_without_a_time_is_named_as_a_count(tmp_path, mia, line):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 3 Stück\n22:10 2 Stück\n{line}\n")
    assert codes(batch) == [(4, "count_not_given")]
    assert "gramrise count" in batch.quarantine[0].trouble.mend


@pytest.mark.parametrize(
    "said", ["3 IE Korrektur", "3 IE", "2.5 U", "1,5 Einheiten", "bolus 2", "insulin 3", "2 units rapid"]
)
def test_insulin_in_a_note_is_called_insulin_and_asks_nothing_about_glucose(tmp_path, mia, said):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 3 Stück\n22:10 {said}\n")
    assert codes(batch) == [(3, "insulin_named")]
    assert batch.doses["grams"].to_list() == [3.0]
    assert batch.questions == ()
    spoken = read_note(said, NOW, mia, now_utc=NOW)
    assert [held.trouble.code for held in spoken.quarantine] == ["insulin_named"]
    assert spoken.doses.is_empty()


@pytest.mark.parametrize("said", ["3 Stück, 2 IE", "3 Stück und 2 IE", "2 IE, 3 Stück"])
def test_insulin_beside_glucose_leaves_the_glucose_and_keeps_the_words(tmp_path, mia, said):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 {said}\n")
    assert batch.doses["grams"].to_list() == [3.0]
    assert batch.questions == ()
    assert batch.events["text"].to_list() == [said]


def test_a_time_later_than_the_saving_is_told_to_be_of_the_day_before(tmp_path, mia):
    batch = note(tmp_path, mia, "22:10 3 Stück\n")
    assert batch.doses["taken_at_utc"].to_list() == [datetime(2026, 11, 25, 21, 10, tzinfo=UTC)]
    assert "Wed 25 Nov 2026 22:10" in batch.remarks[0]
    assert note(tmp_path, mia, "12:10 3 Stück\n").remarks == ()


@pytest.mark.parametrize("said", ["3 Stück ✗", "3 pieces ❌", "✘ 3 pieces", "3̶ ̶p̶i̶e̶c̶e̶s̶"])
def test_a_line_that_is_crossed_out_is_set_aside(tmp_path, mia, said):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 2 Stück\n22:10 {said}\n")
    assert codes(batch) == [(3, "row_denied")]
    assert batch.doses["grams"].to_list() == [2.0]


@pytest.mark.parametrize("dash", ["-", "–", "−"])
def test_a_dash_that_touches_the_number_is_its_sign_and_one_with_blanks_parts_it_from_the_time(tmp_path, mia, dash):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 {dash} 2 Stück\n22:10 {dash}3 Stück\n- 23:10 1 Stück\n")
    assert codes(batch) == [(3, "amount_negative")]
    assert batch.doses["grams"].to_list() == [2.0, 1.0]


@pytest.mark.parametrize(
    "heading", ["Not given:", "Plan:", "Planned for the trip", "Nicht gegeben:", "Ziele", "Beispiel"]
)
def test_lines_under_a_heading_that_denies_or_plans_are_set_aside_to_the_next_blank_line(tmp_path, mia, heading):
    batch = note(
        tmp_path, mia, f"2026-11-25\n20:10 1 Stück\n\n{heading}\n21:10 2 Stück\n21:40 3 Stück\n\n22:10 4 Stück\n"
    )
    assert codes(batch) == [(4, "no_entry"), (5, "under_heading"), (6, "under_heading")]
    assert batch.doses["grams"].to_list() == [1.0, 4.0]


def test_a_heading_that_denies_holds_beyond_a_day_right_beneath_it_and_ends_at_the_next(tmp_path, mia):
    batch = note(tmp_path, mia, "Planned for the trip\n2026-11-24\n02:10 3 Stück\n2026-11-25\n03:10 2 Stück\n")
    assert codes(batch) == [(1, "no_entry"), (3, "under_heading")]
    assert batch.doses["grams"].to_list() == [2.0]


@pytest.mark.parametrize(
    "heading", ["Night:", "Given:", "Traubenzucker:", "Log of November:", "mia:", "Hypos", "no symptoms", "Notizen:"]
)
def test_lines_under_any_other_heading_count(tmp_path, mia, heading):
    batch = note(tmp_path, mia, f"{heading}\n2026-11-25\n21:10 2 Stück\n{heading}\n22:10 3 Stück\n")
    assert batch.doses["grams"].to_list() == [2.0, 3.0]


@pytest.mark.parametrize("beneath", ["-> spat out", "of which 2 eaten", "no, only 2", "2 more later", "ausgespuckt"])
def test_a_line_beneath_an_amount_that_makes_another_of_it_is_asked_about_with_it(tmp_path, mia, beneath):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 3 Stück\n{beneath}\n")
    assert codes(batch) == [(3, "no_entry")]
    assert batch.doses["grams"].to_list() == [None]
    assert [asked.kind for asked in batch.questions] == ["unclear_amount"]


def test_a_line_beneath_an_amount_that_says_whose_it_was_sets_it_aside(tmp_path, mia):
    batch = note(tmp_path, mia, "2026-11-25\n20:10 2 Stück\n21:10 3 Stück\nsorry that was Tom\n")
    assert (3, "another_person") in codes(batch)
    assert batch.doses["grams"].to_list() == [2.0]


@pytest.mark.parametrize("beneath", ["slept well", "nicht gespürt", "Not given:", "62 again", "kein Insulin"])
def test_a_line_beneath_an_amount_of_other_things_leaves_it(tmp_path, mia, beneath):
    batch = note(tmp_path, mia, f"2026-11-25\n21:10 3 Stück\n{beneath}\n")
    assert batch.doses["grams"].to_list() == [3.0]


@pytest.mark.parametrize("line", ["06:00 night bottle 30 mL", "08:00 30 mL night bottle", "22:00 night bottle 30 mL"])
def test_the_name_of_a_source_is_no_part_of_the_day(tmp_path, mia, line):
    bottle = Source("night bottle", Form.LIQUID, grams_per_ml=0.2, stated_as=StatedAs.ANHYDROUS)
    known = replace(mia, sources=Dated(((mia.born, (*mia.sources_now(), bottle)),)))
    assert note(tmp_path, known, f"2026-11-25\n{line}\n").doses["grams"].to_list() == [6.0]
    assert codes(note(tmp_path, mia, "2026-11-25\n06:00 night 3 Stück\n")) == [(2, "part_of_day")]


@pytest.mark.parametrize("said", ["3 pieces at 03:10", "3 Stück um 3.10 Uhr", "2,5 Stück candy gegen 03:10."])
def test_an_amount_with_two_times_is_set_aside_and_not_put_at_the_first(tmp_path, mia, said):
    batch = note(tmp_path, mia, f"2026-11-25\n02:55 {said}\n04:10 2 pieces\n")
    assert [held.trouble.code for held in batch.quarantine] == ["two_times"]
    assert batch.doses["amount"].to_list() == [2.0]


@pytest.mark.parametrize("said", ["3 pieces at 02:55", "3 pieces, looked again at 03:10", "3 pieces (58 at 03:10)"])
def test_the_same_time_twice_or_a_time_of_another_thing_leaves_the_amount_as_it_is(tmp_path, mia, said):
    batch = note(tmp_path, mia, f"2026-11-25\n02:55 {said}\n")
    assert "two_times" not in [held.trouble.code for held in batch.quarantine]
    assert batch.doses.height + len(batch.quarantine) == 1
