"""Numbers in a workbook whose unit is only in their number format, as ECMA-376 Part 1, 18.8.30 and 18.8.31 write it."""

import io

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font

from gramrise.intake.files.shown_units import words_of
from gramrise.intake.files.unpacking import unpack
from gramrise.intake.settings import shipped_settings


@pytest.mark.parametrize(
    ("written", "around"),
    [
        ('0" g"', ("", "g")),
        ('0.0\\ "Stück"', ("", "Stück")),
        ("0\\ \\g", ("", "g")),
        ('"about "0" mL"', ("about", "mL")),
        ('[=1]0" piece";0" pieces"', ("", "pieces")),
        ('[Red]0" g";"-"0" g"', ("", "g")),
        ('General" g"', ("", "g")),
        ('#,##0" mg/dL"', ("", "mg/dL")),
        ('0.0"; g"', ("", "; g")),
        ("0.00", ("", "")),
        ("0%", ("", "")),
        ('dd" of "mmmm', ("", "")),
        ("[$€-407] 0", ("", "")),
        ("General", ("", "")),
    ],
)
def test_the_words_of_a_number_format(written, around):
    assert words_of(written) == around


def test_cells_are_read_as_they_are_shown_wherever_the_table_stands(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    for row, cells in enumerate([("time", "given"), ("2026-01-20 02:10", 4), ("2026-01-20 04:10", 5)], 3):
        for column, cell in enumerate(cells, 2):
            sheet.cell(row, column, cell)
    sheet["C4"].number_format = '0" g"'
    held = io.BytesIO()
    book.save(held)
    path = tmp_path / "log.xlsx"
    path.write_bytes(held.getvalue())
    (member,) = unpack(path, shipped_settings())
    assert member.rows[-2:] == (("2026-01-20 02:10", "4 g"), ("2026-01-20 04:10", "5"))


@pytest.mark.parametrize(("struck", "shown"), [(True, "4 (struck out)"), (False, "4")])
def test_a_line_through_a_cell_is_read_with_it(struck, shown, tmp_path):
    book = openpyxl.Workbook()
    book.active.append(("time", "given"))
    book.active.append(("2026-01-20 02:10", 4))
    book.active["B2"].font = Font(strike=struck)
    book.save(tmp_path / "log.xlsx")
    (member,) = unpack(tmp_path / "log.xlsx", shipped_settings())
    assert member.rows[1] == ("2026-01-20 02:10", shown)


def test_a_comment_beside_a_cell_is_read_with_it_and_one_at_the_header_is_not(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(("time", "given"))
    book.active.append(("2026-01-20 02:10", 4))
    book.active["A1"].comment = Comment("as on the clock", "Dad")
    book.active["B2"].comment = Comment("waren 3", "Dad")
    book.save(tmp_path / "log.xlsx")
    (member,) = unpack(tmp_path / "log.xlsx", shipped_settings())
    assert member.rows == (("time", "given"), ("2026-01-20 02:10", "4 (waren 3)"))
