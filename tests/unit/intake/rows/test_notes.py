"""The plain text note a parent drops into the inbox at night."""

import os
from datetime import UTC, datetime, timedelta

import pytest
from support.variants import PERSON

from gramrise.intake import FileRefused, FileWaits, read_file, read_note

NIGHT = datetime(2026, 3, 14, 3, 30, tzinfo=UTC)  # half past four in Berlin


def note(tmp_path, text: str, *, name: str = "note.txt", saved: datetime = NIGHT, now: datetime | None = None):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    os.utime(path, (saved.timestamp(), saved.timestamp()))
    return read_file(path, PERSON, now_utc=now or saved + timedelta(minutes=10))[0]


def test_a_line_is_an_entry(tmp_path):
    batch = note(tmp_path, "02:10 3 pieces\n")
    row = batch.doses.row(0, named=True)
    assert row["taken_at_utc"] == datetime(2026, 3, 14, 1, 10, tzinfo=UTC)
    assert (row["grams"], row["origin"], batch.layout) == (12.0, "note", "text-note")


def test_entries_without_a_date_reach_back_over_midnight(tmp_path):
    batch = note(tmp_path, "23:50 3 pieces\n02:10 15 ml\n")
    assert batch.doses["taken_at_utc"].to_list() == [
        datetime(2026, 3, 13, 22, 50, tzinfo=UTC),
        datetime(2026, 3, 14, 1, 10, tzinfo=UTC),
    ]


def test_a_line_may_begin_with_at(tmp_path):
    batch = note(tmp_path, "2026-03-14\num 2:10 Uhr 3 pieces\nat 03:10 15 ml\n")
    assert [f"{at:%H:%M}" for at in batch.doses["taken_at_utc"]] == ["01:10", "02:10"]


def test_at_within_a_line_stays_part_of_what_was_written(tmp_path):
    (asked,) = note(tmp_path, "2026-03-14\n02:10 3 of them at 4 places\n").questions
    assert "3 of them at 4 places" in asked.sentence


@pytest.mark.parametrize("day", ["Mar 14", "3/14", "14 March", "Sat Mar 14"])
def test_a_day_without_its_year_is_named_and_what_stands_below_it_lands_nowhere(tmp_path, day):
    batch = note(tmp_path, f"{day}\n2:10am 3 pieces\n")
    assert batch.doses.height == 0
    assert [held.trouble.code for held in batch.quarantine] == ["no_year", "no_date"]


def test_a_line_below_one_that_was_not_read_says_so(tmp_path):
    batch = note(tmp_path, "2026-03-13\n21:40 3 pieces\nspäter 23:x0 2\n02:10 3 pieces\n")
    assert [held.trouble.code for held in batch.quarantine] == ["no_entry", "after_unread"]


def test_a_note_of_more_lines_than_anybody_writes_is_refused_at_once(tmp_path):
    with pytest.raises(FileRefused, match="a note of more than 20000 lines"):
        note(tmp_path, "2026-03-14\n" + "02:10 3 pieces\n" * 20_001)


def test_the_same_words_on_another_night_are_another_note(tmp_path):
    first = note(tmp_path, "02:10 3 pieces\n")
    second = note(tmp_path, "02:10 3 pieces\n", saved=NIGHT + timedelta(days=1))
    again = note(tmp_path, "02:10 3 pieces\n", saved=NIGHT + timedelta(minutes=5))
    assert first.content_hash != second.content_hash
    assert first.content_hash == again.content_hash


def test_a_note_without_a_date_waits_the_next_day(tmp_path):
    with pytest.raises(FileWaits) as waits:
        note(tmp_path, "02:10 3 pieces\n", now=NIGHT + timedelta(hours=20))
    assert waits.value.code == "note_date_open"
    assert "2026-03-14" in str(waits.value)


def test_a_date_in_the_file_name_is_a_date(tmp_path):
    batch = note(tmp_path, "02:10 3 pieces\n", name="2026-03-11.txt", now=NIGHT + timedelta(days=5))
    assert batch.doses["taken_at_utc"].to_list() == [datetime(2026, 3, 11, 1, 10, tzinfo=UTC)]


@pytest.mark.parametrize(
    "line", ["2026-03-14", "14.3.2026", "14. März 2026", "Sat, 14 Mar 2026", "14/03/26", "14 de marzo de 2026"]
)
def test_a_line_with_a_date_holds_for_the_lines_below(line, tmp_path):
    batch = note(tmp_path, f"{line}\n02:10 3 pieces\n", now=NIGHT + timedelta(days=5))
    assert batch.doses["taken_at_utc"].to_list() == [datetime(2026, 3, 14, 1, 10, tzinfo=UTC)]


def test_a_date_that_can_be_read_two_ways_waits(tmp_path):
    with pytest.raises(FileWaits) as waits:
        note(tmp_path, "03/04/2026\n02:10 3 pieces\n", now=NIGHT + timedelta(days=50))
    assert waits.value.code == "day_month_open"


def test_a_day_in_two_figures_is_read_day_first_where_that_is_nearer_to_the_saving(tmp_path):
    batch = note(tmp_path, "13-03-26\n02:10 3 pieces\n")
    assert [at.date().isoformat() for at in batch.doses["taken_at_utc"]] == ["2026-03-13"]
    with pytest.raises(FileWaits) as waits:
        note(tmp_path, "26-03-13\n02:10 3 pieces\n")
    assert waits.value.code == "day_month_open"


def test_morning_and_afternoon_are_read(tmp_path):
    batch = note(tmp_path, "2026-03-13\n2:10 am 3 pieces\n5:15 pm 1 piece\n")
    assert [at.hour for at in batch.doses["taken_at_utc"]] == [1, 16]


def test_a_date_without_a_year_is_no_time_of_day(tmp_path):
    """'11.04. 15:37' is not four minutes past eleven."""
    batch = note(tmp_path, "2026-03-13\n01:00 1 piece\n11.04. 15:37 3 pieces\n")
    assert batch.doses.height == 1
    assert [row.trouble.code for row in batch.quarantine] == ["no_year"]


def test_two_doses_of_one_source_in_one_minute_are_two(tmp_path):
    batch = note(tmp_path, "02:10 3 pieces\n02:10 1 piece\n02:10 10 ml\n")
    assert sorted(batch.doses.select("source", "ordinal", "amount").rows()) == [
        ("night bottle", 1, 10.0), ("tablets", 1, 1.0), ("tablets", 2, 3.0),
    ]  # fmt: skip


def test_the_missing_hour_is_set_aside_and_so_is_the_repeated_one_until_its_offset_is_told(tmp_path):
    """Taken as the first pass in silence, an amount stood an hour before the low that it was given for."""
    spring = note(tmp_path, "2026-03-29\n02:10 3 pieces\n", now=NIGHT + timedelta(days=30))
    autumn = note(tmp_path, "2025-10-26\n02:10 3 pieces\n")
    assert [row.trouble.code for row in spring.quarantine] == ["no_such_local_time"]
    assert spring.rows_offered == 1
    assert (autumn.doses.height, [row.trouble.code for row in autumn.quarantine]) == (0, ["time_ambiguous"])
    told = note(tmp_path, "2025-10-26\n02:10+01:00 3 pieces\n")
    assert told.doses["taken_at_utc"].to_list() == [datetime(2025, 10, 26, 1, 10, tzinfo=UTC)]


def test_a_question_names_the_entry(tmp_path):
    (question,) = note(tmp_path, "02:10 3\n").questions
    assert question.kind == "bare_amount"
    assert question.sentence == "'3' at Sat 14 Mar 2026 02:10: 3 of what? Pieces, mL or grams?"
    assert question.answers == ("piece:tablets", "mL:night bottle", "g", "grams", "not_glucose")
    assert question.about["taken_at_utc"] == "2026-03-14T01:10:00+00:00"


def test_what_is_typed_at_the_command_line_is_read_the_same_way():
    batch = read_note("3 pieces + 10 ml", NIGHT, PERSON, now_utc=NIGHT)
    assert batch.doses.select("grams", "origin").rows() == [(2.5, "give"), (12.0, "give")]
    assert read_note("3", NIGHT, PERSON, now_utc=NIGHT).questions[0].kind == "bare_amount"


@pytest.mark.parametrize(
    "day", ["2026-03-{}", "{}.03.2026", "{}.3.26", "Tue {} March 2026,", "{} mars 2026 à", "3/{}/2026"]
)
def test_a_note_with_day_and_time_on_every_line_is_a_note(day, tmp_path):
    text = "".join(f"{day.format(at)} 02:10 3 pieces\n" for at in (13, 14))
    batch = note(tmp_path, text, now=NIGHT + timedelta(days=5))
    assert batch.layout == "text-note"
    assert batch.doses["taken_at_utc"].to_list() == [
        datetime(2026, 3, 13, 1, 10, tzinfo=UTC), datetime(2026, 3, 14, 1, 10, tzinfo=UTC),
    ]  # fmt: skip
    assert batch.doses["grams"].to_list() == [12.0, 12.0]


def test_day_time_and_a_number_alone_on_every_line_are_not_taken_for_glucose_given(tmp_path):
    with pytest.raises(FileWaits, match="no table and no entry was found"):
        note(tmp_path, "2026-03-13 02:10 104\n2026-03-13 02:15 99\n2026-03-13 02:20 96\n")


@pytest.mark.parametrize("day", ["14 March", "14. März", "14 3"])
def test_a_day_without_a_year_is_never_given_the_hour_for_its_year(day, tmp_path):
    batch = note(tmp_path, f"2026-03-13\n23:10 3 pieces\n{day} 02:10 2 pieces\n")
    assert batch.doses["taken_at_utc"].to_list() == [datetime(2026, 3, 13, 22, 10, tzinfo=UTC)]
    assert [row.trouble.code for row in batch.quarantine] == ["no_entry" if day == "14 3" else "no_year"]


@pytest.mark.parametrize("said", ["tomorrow 3 pieces", "3 Stück gestern", "3 pieces on Friday", "morgen 3 Stück"])
def test_an_amount_of_another_day_than_its_time_is_set_aside_and_the_next_line_lands(said, tmp_path):
    batch = note(tmp_path, f"02:10 {said}\n02:30 2 pieces\n")
    assert batch.doses["amount"].to_list() == [2.0]
    assert [row.trouble.code for row in batch.quarantine] == ["other_day"]
    assert batch.questions == ()


@pytest.mark.parametrize(
    "said", ["half a piece", "02:10h half a piece", "02:10 Uhr half a piece", "02h10 half a piece"]
)
def test_a_word_after_the_time_keeps_its_first_letter(said, tmp_path):
    line = said if said.startswith("02") else f"02:10 {said}"
    assert note(tmp_path, f"{line}\n").doses["grams"].to_list() == [2.0]


def test_a_bottle_of_unknown_size_can_only_be_answered_in_grams(tmp_path):
    (question,) = note(tmp_path, "02:10 1/2 bottle\n").questions
    assert question.answers == ("grams", "not_glucose")
    assert "How many grams of glucose was it?" in question.sentence


def test_a_bare_number_of_a_named_source_is_not_offered_as_another(tmp_path):
    (question,) = note(tmp_path, "02:10 15 night bottle\n").questions
    assert question.answers == ("mL:night bottle", "g", "grams", "not_glucose")


@pytest.mark.parametrize(
    "behind",
    [
        "p.m.",
        "p. m.",
        "P.M.",
        "p.m",
        "nachm.",
        "abends",
        "Uhr abends",
        "du soir",
        "de la tarde",
        "in the evening",
        "pm,",
    ],
)
def test_a_part_of_the_day_behind_the_time_is_read(behind, tmp_path):
    batch = note(tmp_path, f"2026-03-13 6:30 {behind} 1 tablet\n")
    row = batch.doses.row(0, named=True)
    assert (row["taken_at_utc"], row["grams"]) == (datetime(2026, 3, 13, 17, 30, tzinfo=UTC), 4.0)


@pytest.mark.parametrize("line", ["12:30 a.m. 1 tablet", "12:30am 1 tablet", "0:30 1 tablet", "12:30a 1 tablet"])
def test_half_past_midnight_is_read(line, tmp_path):
    batch = note(tmp_path, f"2026-03-13 {line}\n")
    assert batch.doses["taken_at_utc"].to_list() == [datetime(2026, 3, 12, 23, 30, tzinfo=UTC)]


@pytest.mark.parametrize(
    "line",
    [
        "9:30 nachts 1 tablet",
        "12:30 abends 1 tablet",
        "18:30 a.m. 1 tablet",
        "6:30 p 1 tablet",
        "6:30 1 tablet in the evening",
        "abends 6:30 1 tablet",
        "6:30 mittags 1 tablet",
    ],
)
def test_a_part_of_the_day_that_is_not_understood_sets_the_line_aside(line, tmp_path):
    batch = note(tmp_path, f"2026-03-12 02:10 1 tablet\n2026-03-13 {line}\n2026-03-14 02:10 1 tablet\n")
    assert batch.doses.height == 2
    assert [one.trouble.code for one in batch.quarantine] == ["part_of_day"]


@pytest.mark.parametrize("line", ["02:10 nachts 1 tablet", "02:10 at night 1 tablet", "02:10 morgens 1 tablet"])
def test_a_part_of_the_day_that_agrees_changes_nothing(line, tmp_path):
    batch = note(tmp_path, f"2026-03-13 {line}\n")
    row = batch.doses.row(0, named=True)
    assert (row["taken_at_utc"], row["grams"]) == (datetime(2026, 3, 13, 1, 10, tzinfo=UTC), 4.0)


@pytest.mark.parametrize(
    ("written", "hour_utc"),
    [("18:30Z", 18), ("18:30 UTC", 18), ("18:30 GMT+2", 16), ("18:30 +02:00", 16), ("18:30+0200", 16),
     ("18:30 -02:00", 20), ("6:30 p.m. UTC", 18), ("T18:30Z", 18)],
)  # fmt: skip
def test_a_zone_behind_the_time_is_honoured(written, hour_utc, tmp_path):
    batch = note(tmp_path, f"2026-03-13 {written} 2 tablets\n")
    row = batch.doses.row(0, named=True)
    assert (row["taken_at_utc"], row["grams"]) == (datetime(2026, 3, 13, hour_utc, 30, tzinfo=UTC), 8.0)


@pytest.mark.parametrize("written", ["18:40 EST", "18:40 MEZ", "18:40 Europe/Paris", "18:40 +07:45", "18:40 (EST)"])
def test_a_zone_that_is_not_known_for_certain_sets_the_line_aside(written, tmp_path):
    batch = note(tmp_path, f"2026-03-12 02:10 1 tablet\n2026-03-13 {written} 2 tablets\n")
    assert batch.doses.height == 1
    assert [one.trouble.code for one in batch.quarantine] == ["zone_open"]
    assert "+01:00" in str(batch.quarantine[0].trouble)


@pytest.mark.parametrize(
    "words",
    ["planned 2 tablets", "would give 2 tablets", "forgot 2 tablets", "2 tablets (spat out)", "2 tablets refused",
     "2 Tabletten vergessen", "2 comprimés oubliés", "2 pastillas, las escupió"],
)  # fmt: skip
def test_what_was_not_given_is_asked_about(words, tmp_path):
    batch = note(tmp_path, f"2026-03-13 02:10 {words}\n")
    assert batch.doses["grams"].null_count() == batch.doses.height == len(batch.questions)


@pytest.mark.parametrize(("name", "lands"), [("night 14-3.txt", True), ("13.03.txt", True), ("night 20-11.txt", False)])
def test_a_name_that_may_hold_another_day_waits_for_one(tmp_path, name, lands):
    if lands:
        assert note(tmp_path, "02:10 3 pieces\n", name=name).doses.height == 1
    else:
        with pytest.raises(FileWaits, match="its name holds '20-11'"):
            note(tmp_path, "02:10 3 pieces\n", name=name)


@pytest.mark.parametrize("heading", ["Night log Mia", "Sarah", "Dinner was early", "Mona slept"])
def test_a_heading_that_begins_like_a_weekday_is_none(tmp_path, heading):
    batch = note(tmp_path, f"{heading}\n02:10 3 pieces\n")
    assert batch.doses["grams"].to_list() == [12.0]


@pytest.mark.parametrize("heading", ["Friday", "gestern", "Mi", "lundi", "dom"])
def test_a_weekday_above_times_is_a_day_that_nobody_dated(tmp_path, heading):
    assert note(tmp_path, f"{heading}\n02:10 3 pieces\n").doses.height == 0


@pytest.mark.parametrize(
    ("line", "code", "asked"),
    [
        ("02:10 3 pieces (mistake)", ["row_denied"], []),
        ("02:10 3 Stück, Irrtum", ["row_denied"], []),
        ("02:10 correction: 2 pieces", [], ["unclear_amount"]),
        ("02:10 Korrektur 2 Stück", [], ["unclear_amount"]),
    ],
)
def test_what_a_note_takes_back_or_corrects_does_not_count(tmp_path, line, code, asked):
    batch = note(tmp_path, line + "\n")
    assert [held.trouble.code for held in batch.quarantine] == code
    assert [each.kind for each in batch.questions] == asked
    assert batch.doses["grams"].drop_nulls().to_list() == []


def test_another_amount_of_a_minute_that_stood_further_up_is_set_aside(tmp_path):
    lines = "2026-03-13\n02:10 3 pieces\n03:10 2 pieces\n"
    batch = note(tmp_path, lines + lines.replace("3 pieces", "4 pieces"))
    assert sorted(batch.doses["amount"].to_list()) == [2.0, 3.0]
    assert [held.trouble.code for held in batch.quarantine] == ["amount_contradicts"]


def test_another_source_of_a_minute_that_stood_further_up_lands(tmp_path):
    batch = note(tmp_path, "2026-03-13\n02:10 3 pieces\n03:10 2 pieces\n2026-03-13\n02:10 15 ml\n")
    assert sorted(batch.doses["amount"].to_list()) == [2.0, 3.0, 15.0]
