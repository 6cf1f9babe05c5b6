"""A pattern's time grows with a line's length, not with its square: long lines of each mark are tried."""

import re
import time
from pathlib import Path

import pytest
from support.variants import NOW, PERSON

import gramrise
from gramrise.intake import FileTrouble, load_settings, load_words, read_file, read_note
from gramrise.intake.files import looks_number, looks_timed
from gramrise.intake.words import folded, header_key

LONG = 90_000
# Beginnings after which a pattern is half satisfied, marks that keep it going, endings that make it fail.
MARKS = [
    "(",
    "[",
    " ",
    "1",
    "1 ",
    "1/",
    "a",
    "a ",
    ".",
    ",",
    "-",
    ":",
    "1:",
    "00:00 ",
    '"',
    "½",
    "1,",
    "(a)",
    "=",
    "\u00a0",
    "1h",
]
BEGINNINGS = ["", "02:10 ", "2026-03-14 02:10 ", "3 pieces ", "Glucose (", "1 "]
MOST_SECONDS = 3.0  # of work; a line of 90,000 brackets took 197 s by the square of its length


def patterns() -> list[re.Pattern[str]]:
    """Every compiled pattern of intake, and those written where they are used."""
    import importlib

    found: list[re.Pattern[str]] = []
    root = Path(gramrise.__file__).parent
    for file in sorted((root / "intake").rglob("*.py")):
        module = importlib.import_module(".".join(file.relative_to(root.parent).with_suffix("").parts))
        found += [
            value for value in vars(module).values() if isinstance(value, re.Pattern) and isinstance(value.pattern, str)
        ]
    return list({one.pattern: one for one in found}.values())


def slowest(work, length: int = LONG, beginnings: list[str] = BEGINNINGS) -> tuple[float, str]:
    worst = (0.0, "")
    for beginning in beginnings:
        for mark in MARKS:
            line = (beginning + mark * length)[:length] + "x"
            begun = time.process_time()
            work(line)
            worst = max(worst, (time.process_time() - begun, line[:40]))
    return worst


def test_each_pattern_on_long_lines():
    tried = patterns()
    assert len(tried) > 20
    times = {
        one.pattern: slowest(lambda line, one=one: (one.search(line), one.fullmatch(line)), 20_000) for one in tried
    }
    assert {pattern: worst for pattern, worst in times.items() if worst[0] > MOST_SECONDS} == {}


@pytest.mark.parametrize("work", [header_key, folded, looks_timed, looks_number])
def test_each_reader_of_one_cell_on_long_lines(work):
    assert slowest(work)[0] < MOST_SECONDS


def test_a_note_of_one_long_line_is_read_in_a_moment():
    def work(line):
        read_note(line, NOW, PERSON, now_utc=NOW)

    assert slowest(work, LONG, [""])[0] < MOST_SECONDS


@pytest.mark.parametrize("name", ["note.txt", "log.csv"])
def test_a_file_with_a_long_line_is_read_in_a_moment(name, tmp_path):
    path = tmp_path / name
    top = "2026-03-14\n02:10 3 pieces\n" if name == "note.txt" else "time,source,amount\n2026-03-14 02:10,tablets,3\n"

    codes: set[str] = set()

    def work(line):
        path.write_text(f"{top}{line}\n{line},{line[: LONG // 3]}\n"[: 2 * LONG], encoding="utf-8")
        try:
            read_file(path, PERSON, now_utc=NOW)
        except FileTrouble as trouble:
            codes.add(trouble.code)

    assert slowest(work, LONG, ["02:10 "])[0] < MOST_SECONDS


def test_a_file_of_headers_alone_takes_no_longer_than_its_lines(tmp_path):
    path = tmp_path / "t.csv"
    for text in ("time,note\n" * 40_000, "time,note\ndate,glucose\n" * 20_000):
        path.write_text(text[: load_settings().careful_bytes - 1])
        begun = time.process_time()
        with pytest.raises(FileTrouble):
            read_file(path, PERSON, now_utc=NOW)
        assert time.process_time() - begun < 10.0
    assert load_words().numbers
