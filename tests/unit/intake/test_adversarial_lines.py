"""A pattern's time grows with a line's length, not with its square: long lines of each mark are tried.

A line of 90,000 brackets once took 197 s, a header of 20,000 no-break spaces did not end.
"""

import re
import time
from contextlib import suppress
from pathlib import Path

import pytest
from support.variants import NOW, PERSON

import gramrise
from gramrise.intake import FileTrouble, load_words, read_file, read_note
from gramrise.intake.files import looks_number, looks_timed
from gramrise.intake.labels import days_written, is_birth_label, named_in_line, person_named, shares_a_word
from gramrise.intake.words import folded, header_key

pytestmark = pytest.mark.slow

LENGTHS = (120, 1_000)  # the short line first: work by the cube would not end at the long one
NOTHING_SECONDS = 0.003  # below this a clock of work says little; a cube of 1,000 takes more
MOST_GROWTH = 24.0  # between 8 of linear work and 64 of work by the square
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
WORDS = load_words()
BEGINNINGS = ["", "02:10 ", "2026-03-14 02:10 ", "3 pieces ", "Glucose (", "1 "]


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


def seconds(work, given) -> float:
    begun = time.process_time()
    work(given)
    return time.process_time() - begun


def grown(work, beginning: str, mark: str, length: int) -> float:
    """How many times longer a line takes that is eight times longer; below 8 where both take next to nothing.

    Times are of one process against each other, so a slow machine changes nothing. Linear work grows 8 times, work by
    the square 64 times, by the cube 512 times.
    """

    return max(
        seconds(work, long) / max(seconds(work, short), NOTHING_SECONDS)
        for end in ("x", "!", "")
        for short, long in [[(beginning + mark * most)[:most] + end for most in (length, 8 * length)]]
    )


def grows_too_fast(work, beginnings: list[str], lengths: tuple[int, ...] = LENGTHS) -> list[str]:
    """Lines by which the time of work grows faster than the line; each suspicion is measured three times."""
    for length in lengths:
        tried = [(beginning, mark) for beginning in beginnings for mark in MARKS]
        found = [one for one in tried if all(grown(work, *one, length) > MOST_GROWTH for _ in range(3))]
        if found:
            return [f"{beginning}{mark}..." for beginning, mark in found]
    return []


def test_each_pattern_on_long_lines():
    tried = patterns()
    assert len(tried) > 20
    found = {}
    for one in tried:
        found[one.pattern] = grows_too_fast(lambda line, one=one: (one.findall(line), one.fullmatch(line)), BEGINNINGS)
    assert {pattern: lines for pattern, lines in found.items() if lines} == {}


def test_a_pattern_by_the_cube_is_found():
    bracketed = re.compile(r"[(]\s*([^()]*?)\s*[)]")
    assert "Glucose (\u00a0..." in grows_too_fast(bracketed.search, ["Glucose ("])


@pytest.mark.parametrize("work", [header_key, folded, looks_timed, looks_number])
def test_each_reader_of_one_cell_on_long_lines(work):
    assert grows_too_fast(work, BEGINNINGS) == []


@pytest.mark.parametrize("work", [
    days_written,
    lambda line: named_in_line(line, PERSON, WORDS),
    lambda line: person_named(line, WORDS),
    lambda line: is_birth_label(line, WORDS),
    lambda line: shares_a_word(line, PERSON),
])  # fmt: skip
def test_each_reader_of_names_and_birth_dates_on_long_lines(work):
    assert grows_too_fast(work, ["", "Name: ", "Log for Tom ", "geb. 1.1.2019 "]) == []


@pytest.mark.parametrize(("more", "day"), [(",whom,part", "2026-03-31"), ("", "{line}"), ("", "Fr. 2026-03-13 {line}")])
def test_long_cells_beside_or_in_a_day_are_read_in_a_time_that_grows_with_their_length(more, day, tmp_path):
    path = tmp_path / "log.csv"
    rows = [f"2026-03-{at},02:10,tablets,3" for at in range(10, 22)]

    def work(line):
        cell = line.replace('"', "'")
        beside = [f',"{cell}","{cell}"' if more else ""] * len(rows)
        last = f'"{day.format(line=cell)}",02:10,tablets,3{beside[0]}'
        whole = [f"date,time,source,amount{more}", *map("".join, zip(rows, beside, strict=True)), last]
        path.write_text("\n".join([*whole, ""]), encoding="utf-8")
        with suppress(FileTrouble):
            read_file(path, PERSON, now_utc=NOW)

    assert grows_too_fast(work, [""], LENGTHS[1:]) == []


def test_a_note_of_one_long_line_is_read_in_a_time_that_grows_with_its_length():
    assert grows_too_fast(lambda line: read_note(line, NOW, PERSON, now_utc=NOW), ["02:10 "]) == []


@pytest.mark.parametrize("name", ["note.txt", "log.csv"])
def test_a_file_with_a_long_line_is_read_in_a_time_that_grows_with_its_length(name, tmp_path):
    path = tmp_path / name
    top = "2026-03-14\n02:10 3 pieces\n" if name == "note.txt" else "time,source,amount\n2026-03-14 02:10,tablets,3\n"
    tried: set[str] = set()

    def work(line):
        path.write_text(f"{top}{line}\n{line},{line[: len(line) // 3]}\n", encoding="utf-8")
        tried.add(line[:20])
        with suppress(FileTrouble):
            read_file(path, PERSON, now_utc=NOW)

    assert grows_too_fast(work, ["02:10 "], LENGTHS[1:]) == []
    assert len(tried) >= 15


@pytest.mark.parametrize("lines", ["time,note\n", "time,note\ndate,glucose\n"])
def test_a_file_of_headers_alone_takes_a_time_that_grows_with_its_length(lines, tmp_path):
    path = tmp_path / "t.csv"
    codes = set()

    def work(most: int) -> None:
        path.write_text((lines * most)[:most])
        with pytest.raises(FileTrouble) as trouble:
            read_file(path, PERSON, now_utc=NOW)
        codes.add(trouble.value.code)

    growths = [seconds(work, 40_000) / max(seconds(work, 5_000), NOTHING_SECONDS) for _ in range(2)]
    assert min(growths) < MOST_GROWTH
    assert codes
    assert WORDS.numbers
