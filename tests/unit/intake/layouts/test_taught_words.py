"""Words by which a table names somebody, makes another amount or contradicts its days can be taught in the settings."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from support.variants import NOW

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import FileWaits, load_settings, load_words, read_file
from gramrise.intake.context import ReadContext
from gramrise.intake.labels import days_written, person_named
from gramrise.intake.rows.other_persons import leading_name

SINCE = date(2016, 4, 2)
CANDY = Source("candy", Form.TABLET, grams_per_piece=3, stated_as=StatedAs.ANHYDROUS)
MIRA = Person("mira", SINCE, Dated(((SINCE, ZoneInfo("Europe/Berlin")),)), name="Mira",
              sources=Dated(((SINCE, (CANDY,)),)))  # fmt: skip
TABLE = "time,source,pieces\n2026-03-13 02:10,candy,2\n2026-03-14 02:40,candy,1\n"


def beside(header: str, first: str, second: str) -> str:
    """The table with one column more."""
    return "\n".join(f"{line},{cell}" for line, cell in zip(TABLE.splitlines(), (header, first, second), strict=True))


def taught(tmp_path, table: str, line: str):
    (tmp_path / "gramrise.toml").write_text(f"[header_words.{table}]\n{line}\n", "utf-8")
    return load_words(tmp_path)


def code_of(tmp_path, text: str, words) -> str:
    """With which code a table waits; '' where it is read."""
    path = tmp_path / "log.csv"
    path.write_text(text, "utf-8")
    try:
        read_file(path, MIRA, now_utc=NOW, words=words)
    except FileWaits as why:
        return why.code
    return ""


@pytest.mark.parametrize(
    ("table", "line", "text", "before", "after"),
    [
        ("whose", 'logs = ["dnevnik"]', f"Dnevnik Tom\n{TABLE}", "", "other_person"),
        ("whose", 'labels = ["ime"]', f"Ime: Tom\n{TABLE}", "", "other_person"),
        ("whose", 'behind = ["za"]', f"Export za Tom\n{TABLE}", "", "other_person"),
        ("whose", 'no_names = ["lukas"]', f"Export for Lukas\n{TABLE}", "other_person", ""),
        ("whose", 'thing_endings = ["kas"]', f"Export for Lukas\n{TABLE}", "other_person", ""),
        ("whose", 'undecided = ["od"]', f"Export for Tom od\n{TABLE}", "", "other_person"),
        ("whose", 'to_whom = ["komu"]', beside("komu", "Tom", "Tom"), "column_open", "other_person"),
        ("whose", 'by_whom = ["dal"]', beside("kdo dal", "Tom", "Ana"), "column_open", ""),
        ("amount_headers", 'shares = ["delez"]', beside("percent", "50", "100"), "share_open", ""),
        ("amount_headers", 'whole = ["50"]', beside("percent", "50", "50"), "share_open", ""),
        ("amount_headers", 'rests = ["ostanek"]', beside("Rest", "1", "0"), "share_open", ""),
        ("amount_headers", 'nothing = ["9"]', beside("Rest", "9", "9"), "share_open", ""),
    ],
)  # fmt: skip
def test_a_word_taught_in_the_home_is_read(table, line, text, before, after, tmp_path):
    shipped = load_words()
    assert (code_of(tmp_path, text, shipped), code_of(tmp_path, text, taught(tmp_path, table, line))) == (before, after)


def test_a_weekday_taught_in_the_home_contradicts_its_day(tmp_path):
    names = ["ponedeljek", "torek", "sreda", "cetrtek", "petek", "sobota", "nedelja"]
    words = taught(tmp_path, "calendar", f"weekdays = {names}")
    path = tmp_path / "log.csv"
    path.write_text(
        "Datum,Uhrzeit,Was,Menge\nPetek 13.03.2026,02:10,candy,2\nPetek 14.03.2026,02:40,candy,1\n", "utf-8"
    )
    (batch,) = read_file(path, MIRA, now_utc=NOW, words=words)
    assert [(one.trouble.row, one.trouble.code) for one in batch.quarantine] == [(3, "weekday_contradicts")]
    assert words.weekdays["petek"] == {4}
    assert load_words().weekdays["di"] == {1, 6}  # Tuesday in German, Sunday in French


@pytest.mark.parametrize("name", ["Sam", "Dom", "Marti"])
def test_a_short_weekday_stays_a_name_in_notes(name):
    context = ReadContext(MIRA, load_settings(), load_words(), NOW)
    assert leading_name(f"{name} 3 pieces", context) == name


def test_a_cell_that_does_not_end_is_no_name_and_no_birth_date():
    words = load_words()
    assert person_named("Tom Muster", words) == "Tom Muster"
    assert person_named("Tom Muster (" + "a remark " * 1000, words) == "Tom Muster"
    assert person_named("tom" * 1000, words) == ""
    assert days_written("13.03.2016") == (date(2016, 3, 13),)
    assert days_written("1. " + "march" * 1000 + " 2016") == ()
