"""What `gramrise layouts FILE` shows: evidence, what stays open with the line to add, and a draft that then works."""

import pytest
from support.variants import BERLIN, DE, NOW, ONE_DAY, PERSON, TRUTH, Variant, workbook

from gramrise.connectors.shelf import load_layouts, read_layout, shipped_layouts
from gramrise.domain.problems import WrongUse
from gramrise.intake import FileWaits, read_file, recognise

HOURS = [(at.astimezone(BERLIN).replace(tzinfo=None), level) for at, level in TRUTH[:40]]


def seen(variant: Variant, tmp_path):
    path = tmp_path / "table.csv"
    path.write_bytes(variant.data())
    return path, recognise(path, PERSON, now_utc=NOW)


def test_each_conclusion_comes_with_its_proof(tmp_path):
    _, recognition = seen(DE, tmp_path)
    assert recognition.certain
    for words in (
        "its letters are utf-8: its bytes are valid UTF-8",
        "cells are parted by semicolons",
        "row 1 is the header",
        "times are written as dmy",
        "a part over 12",
        "',' parts decimals",
        "mmol/L: the header 'Zucker (mmol/L)' says so",
    ):
        assert words in recognition.text


def test_a_file_of_a_known_layout_says_which(tmp_path):
    _, recognition = seen(Variant("plain", header=("time", "glucose (mg/dL)")), tmp_path)
    assert "read by layout 'readings'" in recognition.text
    assert recognition.tables[0].draft == ""


def test_an_open_point_shows_both_readings_and_the_line_to_add(tmp_path):
    _, recognition = seen(
        Variant("open", truth=ONE_DAY, form="%d/%m/%Y %H:%M", header=("When", "Sugar (mg/dL)")), tmp_path
    )
    assert not recognition.certain
    assert 'either day, month, year: 03 March 2026   add  formats = ["dmy"]' in recognition.text


def test_the_draft_completed_by_one_line_reads_the_file(tmp_path):
    variant = Variant("open", truth=TRUTH[:50], header=("When", "Sugar"))
    path, recognition = seen(variant, tmp_path)
    (point,) = recognition.tables[0].open
    assert point.code == "unit_open"
    draft = recognition.tables[0].draft.replace('value = "Sugar"', 'value = "Sugar"\n' + point.lines[0])
    layout = read_layout(draft, "draft.toml")
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=(layout,), layout_name=layout.name)
    assert batch.readings["glucose_mg_dl"].to_list() == [level for _, level in TRUTH[:50]]


def test_the_waiting_error_carries_draft_readings_and_lines(tmp_path):
    path, _ = seen(Variant("open", truth=TRUTH[:50], header=("When", "Sugar")), tmp_path)
    with pytest.raises(FileWaits) as waits:
        read_file(path, PERSON, now_utc=NOW)
    assert waits.value.lines == ('unit = "mg/dL"', 'unit = "mmol/L"')
    assert str(waits.value).endswith("'gramrise layouts FILE' shows the lines to add, in a whole layout.")
    assert read_layout(waits.value.draft, "draft").name == "recognised"


def test_two_fitting_layouts_are_named_and_neither_is_taken(tmp_path):
    path, _ = seen(Variant("plain", header=("time", "glucose (mg/dL)")), tmp_path)
    (readings,) = [layout for layout in shipped_layouts() if layout.name == "readings"]
    twin = readings.model_copy(update={"name": "twin"})
    with pytest.raises(FileWaits) as waits:
        read_file(path, PERSON, now_utc=NOW, layouts=(readings, twin))
    assert waits.value.code == "several_layouts"
    assert waits.value.lines == ("--layout readings", "--layout twin")


def test_a_layout_in_the_home_is_used_without_a_line_of_python(tmp_path):
    folder = tmp_path / "home" / "layouts"
    folder.mkdir(parents=True)
    (folder / "grandma.toml").write_text("""
name = "grandma"
about = "Grandma's own table"
[recognised_by]
header = ["Wann", "Wieviel"]
[clock]
columns = ["Wann"]
formats = ["%H.%M am %d.%m.%Y"]
[[brings]]
kind = "doses"
amount = "Wieviel"
source_is = "tablets"
""", "utf-8")  # fmt: skip
    path = tmp_path / "t.csv"
    path.write_text("Wann;Wieviel\n2.10 am 14.03.2026;3\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=load_layouts(tmp_path / "home"))
    assert (batch.layout, batch.doses["grams"].to_list()) == ("grandma", [12.0])


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("name = 3", "name"),
        ('name = "a"\nabout = "b"\n[clock]\ncolumns = ["t"]\n[[brings]]\nkind = "spells"', "spells"),
        ('name = "a"\nabout = "b"\ncolour = "red"', "colour"),
        ('name = "a\n', "line 1"),
    ],
)
def test_a_broken_layout_is_refused_with_the_place(text, named):
    with pytest.raises(WrongUse) as trouble:
        read_layout(text, "mine.toml")
    assert named in str(trouble.value)
    assert "mine.toml" in str(trouble.value)


def test_a_layout_that_needs_a_column_the_table_lacks_says_which(tmp_path):
    path, _ = seen(Variant("plain", header=("When", "Glucose (mg/dL)")), tmp_path)
    with pytest.raises(FileWaits) as waits:
        read_file(path, PERSON, now_utc=NOW, layout_name="readings")
    assert waits.value.code == "column_missing"
    assert "'time'" in str(waits.value)


def test_rows_are_counted_as_an_editor_counts_them(tmp_path):
    """Preamble, a quoted line break in a remark, blank lines: the bad row is found where the editor shows it."""
    path = tmp_path / "t.csv"
    path.write_text(
        'Kept by the family\n\ntime,glucose (mg/dL),note\n2026-03-13 10:00,100,"in\nbed"\n\n2026-03-13 10:05,many,\n'
        "2026-03-13 10:10,101,\n", "utf-8",
    )  # fmt: skip
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    (bad,) = batch.quarantine
    assert (bad.trouble.row, bad.trouble.column, bad.trouble.found) == (7, "glucose (mg/dL)", "many")
    assert bad.text == "2026-03-13 10:05,many,"
    assert bad.trouble.sentence == (
        "t.csv row 7, glucose (mg/dL): found 'many'; this is no number. "
        "To mend: write the number alone, in the way the rows around it do."
    )


def test_several_tables_of_one_file_are_several_batches(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(
        Variant("r").data() + b"\nGlucose given\nTime,Source,Amount\n2026-03-13 10:00,tablets,3\n\n"
        b"Date,Weight (kg)\n2026-03-13,40.1\n"
    )
    batches = read_file(path, PERSON, now_utc=NOW)
    assert [(b.readings.height, b.doses.height, b.weights.height) for b in batches] == [
        (500, 0, 0),
        (0, 1, 0),
        (0, 0, 1),
    ]
    assert len({batch.content_hash for batch in batches}) == 3


def test_a_second_table_far_down_a_large_file_is_not_read_by_the_first_ones_layout(tmp_path):
    from gramrise.intake import load_settings

    path = tmp_path / "t.csv"
    path.write_bytes(Variant("r", header=("time", "glucose (mmol/L)"), unit="mmol/L").data()
                     + b"time,units\n2026-03-13 10:00,4\n2026-03-13 10:01,5\n")  # fmt: skip
    small = load_settings().model_copy(update={"careful_bytes": 0, "block_bytes": 4000})
    batches = read_file(path, PERSON, now_utc=NOW, settings=small)
    assert [(b.readings.height, b.events.height) for b in batches] == [(500, 0), (0, 2)]


def kept(home, name: str, draft: str):
    folder = home / "layouts"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(draft, "utf-8")
    return load_layouts(home)


def test_a_draft_kept_in_the_home_is_named_by_its_file_and_recognises_the_next_export_by_itself(tmp_path):
    variant = Variant("open", truth=TRUTH[:50], header=("When", "Sugar"))
    path, recognition = seen(variant, tmp_path)
    draft = recognition.tables[0].draft.replace('value = "Sugar"', 'value = "Sugar"\nunit = "mg/dL"')
    layouts = kept(tmp_path / "home", "Our sheet.toml", draft)
    assert "our-sheet" in [layout.name for layout in layouts]
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=layouts)
    assert (batch.layout, batch.readings.height) == ("our-sheet", 50)


def test_two_drafts_kept_side_by_side_are_two_layouts(tmp_path):
    _, recognition = seen(Variant("open", truth=TRUTH[:50], header=("When", "Sugar")), tmp_path)
    kept(tmp_path / "home", "one.toml", recognition.tables[0].draft)
    layouts = kept(tmp_path / "home", "two.toml", recognition.tables[0].draft)
    assert {"one", "two"} <= {layout.name for layout in layouts}


def test_two_layouts_of_one_name_are_refused_naming_both_files(tmp_path):
    _, recognition = seen(Variant("open", truth=TRUTH[:50], header=("When", "Sugar")), tmp_path)
    draft = recognition.tables[0].draft.replace('"recognised"', '"sheet"')
    kept(tmp_path / "home", "one.toml", draft)
    with pytest.raises(WrongUse, match=r"one\.toml and two\.toml are both called 'sheet'"):
        kept(tmp_path / "home", "two.toml", draft)


def test_a_kept_layout_in_mmol_does_not_read_a_table_whose_header_says_mg_dl(tmp_path):
    path, recognition = seen(Variant("mmol", truth=TRUTH[:50], header=("When", "Sugar")), tmp_path)
    draft = recognition.tables[0].draft.replace('value = "Sugar"', 'value = "Sugar"\nunit = "mmol/L"')
    layouts = kept(tmp_path / "home", "ours.toml", draft)
    path.write_bytes(Variant("mg", truth=TRUTH[:50], header=("When", "Sugar (mg/dL)")).data())
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=layouts)
    assert batch.layout == "recognised"
    assert batch.readings["glucose_mg_dl"].to_list() == [level for _, level in TRUTH[:50]]


def test_a_layout_that_is_not_at_hand_is_named_also_for_a_note(tmp_path):
    note = tmp_path / "night.txt"
    note.write_text("2026-03-13\n02:10 3 pieces\n")
    with pytest.raises(FileWaits, match="no layout is called 'grandmas'"):
        read_file(note, PERSON, now_utc=NOW, layout_name="grandmas")


def test_a_sheet_is_not_said_to_be_parted_by_semicolons(tmp_path):
    path = tmp_path / "book.xlsx"
    path.write_bytes(workbook([["Ours"], [], ["Time", "Glucose (mg/dL)"], *[[at, level] for at, level in HOURS]]))
    text = recognise(path, PERSON, now_utc=NOW).text
    assert "it is a sheet" in text
    assert "parted by" not in text
    assert "lines above it: 1" in text
