"""Lines of a note, and rows of a log, whose words may speak of another child: set aside by name, never this child's."""

from dataclasses import replace
from datetime import date

import pytest
from support.variants import BERLIN, NOW, PERSON, SINCE

from gramrise.domain.person import Dated, Person
from gramrise.intake import FileWaits, read_file

DAY = "2026-03-14\n"
OWN = "02:10 3 tablets\n"


def note(tmp_path, text, **means):
    (tmp_path / "note.txt").write_text(text, "utf-8")
    (batch,) = read_file(tmp_path / "note.txt", PERSON, now_utc=NOW, **means)
    return batch


@pytest.mark.parametrize(
    "line",
    [
        "04:10 2 tablets for his brother\n",
        "04:10 2 tablets, das war Tom\n",
        "04:10 2 tablets (sister)\n",
        "04:10 Ben 2 tablets\n",
        "04:10 2 Stück für Mia\n",
        "04:10 2 comprimés pour sa soeur\n",
        "Ben:\n04:10 2 tablets\n",
        "Schwester\n04:10 2 tablets\n",
    ],
)
def test_a_line_that_names_another_child_is_set_aside(tmp_path, line):
    batch = note(tmp_path, DAY + OWN + line)
    assert batch.doses["grams"].to_list() == [12.0]
    assert "another_person" in [held.trouble.code for held in batch.quarantine]


@pytest.mark.parametrize(
    "line",
    [
        "04:10 2 tablets after swimming\n",
        "04:10 2 tablets before school\n",
        "04:10 Again 2 tablets\n",
        "04:10 2 Stück\n",
    ],
)
def test_a_line_of_ordinary_words_is_this_childs(tmp_path, line):
    batch = note(tmp_path, DAY + OWN + line)
    assert (batch.doses["grams"].to_list(), batch.quarantine) == ([12.0, 8.0], ())


def test_a_note_whose_lines_all_begin_with_the_childs_name_is_this_childs(tmp_path):
    (tmp_path / "note.txt").write_text(f"{DAY}02:10 Lena 3 tablets\n04:10 lena: 2 tablets\n", "utf-8")
    (batch,) = read_file(tmp_path / "note.txt", replace(PERSON, name="Lena Berg"), now_utc=NOW)
    assert batch.doses["grams"].to_list() == [12.0, 8.0]


@pytest.mark.parametrize("word", ["Ben", "Paracetamol"])
def test_a_word_nobody_knows_before_tablets_may_be_what_was_given(tmp_path, word):
    batch = note(tmp_path, f"{DAY}02:10 {word} 3 tablets\n04:10 {word} 2 tablets\n")
    assert batch.doses["grams"].to_list() == [None, None]
    assert {asked.kind for asked in batch.questions} == {"unknown_source"}


def test_a_note_whose_lines_begin_with_two_names_is_set_aside_whole(tmp_path):
    batch = note(tmp_path, f"{DAY}02:10 Ben 3 tablets\n04:10 Mia 2 tablets\n")
    assert (batch.doses.height, len(batch.quarantine)) == (0, 2)


def test_a_line_of_the_log_with_a_remark_for_another_is_set_aside(tmp_path):
    rows = "".join(f"2026-03-{day} 02:30,tablets,3,{'for Mia' if day == 15 else ''}\n" for day in range(13, 20))
    (tmp_path / "t.csv").write_text(f"Time,Source,Amount,Note\n{rows}")
    (batch,) = read_file(tmp_path / "t.csv", PERSON, now_utc=NOW)
    assert batch.doses.height == 6
    assert [(held.trouble.code, held.trouble.row) for held in batch.quarantine] == [("another_person", 4)]


@pytest.mark.parametrize("name", ["ben.csv", "march ben.csv", "march.csv"])
def test_a_file_that_names_another_of_the_household_waits(tmp_path, name):
    ben = Person("ben", date(2016, 1, 1), Dated(((SINCE, BERLIN),)))
    above = "Patient: Ben\n" if name == "march.csv" else ""
    rows = "".join(f"2026-03-13 0{at // 12}:{at % 12 * 5:02d},104\n" for at in range(30))
    (tmp_path / name).write_text(f"{above}time,glucose (mg/dL)\n{rows}")
    with pytest.raises(FileWaits) as waits:
        read_file(tmp_path / name, PERSON, now_utc=NOW, household=(PERSON, ben))
    assert waits.value.code == "several_persons"
    (batch,) = read_file(tmp_path / name, PERSON, now_utc=NOW, household=(PERSON,))
    assert batch.readings.height == 30


def test_hundreds_of_amounts_in_one_line_or_one_minute_are_set_aside(tmp_path):
    batch = note(tmp_path, DAY + OWN + "04:10 " + "1 tablet, " * 300 + "\n")
    assert (batch.doses["grams"].to_list(), [held.trouble.code for held in batch.quarantine]) == (
        [12.0],
        ["amounts_too_many"],
    )
    batch = note(tmp_path, DAY + OWN + "04:10 1 tablet\n" * 300)
    assert batch.doses["grams"].to_list() == [12.0]
    assert {held.trouble.code for held in batch.quarantine} == {"amounts_too_many"}
    assert len(batch.quarantine) == 300


def test_a_name_above_the_first_line_sets_all_below_it_aside(tmp_path):
    batch = note(tmp_path, DAY + "Tom:\n" + OWN)
    assert batch.doses.height == 0
    assert "another_person" in [held.trouble.code for held in batch.quarantine]


def test_a_title_or_a_tin_that_is_known_names_nobody(tmp_path):
    batch = note(tmp_path, DAY + "Notizen\n" + OWN + "04:10 Schultasche: 7 tablets left\n", containers=("Schultasche",))
    assert batch.doses["grams"].to_list() == [12.0]
    assert [count.container for count in batch.counts] == ["Schultasche"]


def test_words_of_the_night_beside_an_hour_of_day_leave_the_time_open(tmp_path):
    batch = note(tmp_path, DAY + "08:00 gave 3 tablets at night\n")
    assert [held.trouble.code for held in batch.quarantine] == ["part_of_day"]
