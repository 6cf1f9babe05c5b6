"""Files damaged in many ways, read, and judged: only told troubles, every row told, every value one of the file.

The judge knows nothing of how files are read: it looks for the value and the minute of every reading, finger-stick,
weight and amount in the text of the damaged file itself.
"""

import gzip
import io
import json
import random
import re
import tempfile
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from gramrise.connectors import samples_folder
from gramrise.connectors.shelf import load_layouts
from gramrise.domain.batch import Batch
from gramrise.intake import FileTrouble, read_file
from support.variants import NOW, PERSON, workbook

EXPORTS = samples_folder().parents[1] / "sample_exports"
LAYOUTS = load_layouts(None)
MOST_LINES = 60  # of a sample: enough for recognition, and small enough for thousands of copies
LB, MMOL = 0.45359237, 18.0156
_MINUTE = re.compile(r"(?:\d{1,2}[:.h]|(?<=[T ;,\t])\d{2})(\d{2})")
_OFFSET = re.compile(r"[+-]\d{2}:?(\d{2})")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_ROW = re.compile(r'"?\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}[^,;\t]*[,;\t]')


@dataclass(frozen=True)
class Sample:
    """A file as people have it. With `pack` the text is damaged and then packed, or the packed bytes are damaged."""

    name: str
    data: bytes
    pack: Callable[[bytes], bytes] | None = None


@dataclass
class Tally:
    """What was tried of one kind of file, and what came of it."""

    tried: int = 0
    read: int = 0
    waiting: int = 0
    refused: int = 0
    rows: int = 0
    values: int = 0
    wrong: list[str] = field(default_factory=list)


def samples() -> list[Sample]:
    """Every sample that ships, cut short, and readings packed in each way that is read."""
    found = []
    for path in sorted(
        [*EXPORTS.glob("family_*/*"), *samples_folder().glob("*/clean.*"), *samples_folder().glob("*/broken.*")]
    ):
        if path.suffix in {".json", ".ndjson"} and path.parent.parent == EXPORTS:
            continue  # records of open standards cannot be cut by lines: `tests/property` and `outside` damage those
        text = path.read_text("utf-8").split("\n")[:MOST_LINES]
        found.append(Sample(f"{path.parent.name}/{path.name}", ("\n".join(text).rstrip("\n") + "\n").encode()))
    start = datetime(2026, 3, 13, 8, tzinfo=UTC)
    rows = [(start + timedelta(minutes=5 * at), 90 + at * 37 % 101) for at in range(MOST_LINES)]
    entries = [{"time": at.isoformat(), "glucose (mg/dL)": level} for at, level in rows]
    plain = "time,glucose (mg/dL)\n" + "".join(f"{at:%Y-%m-%d %H:%M},{level}\n" for at, level in rows)
    table = "time,glucose (mg/dL),note\n" + "".join(
        f'{at.isoformat()},{level},"a ""note""\nof two"\n' for at, level in rows
    )
    found += [
        Sample("array.json", json.dumps(entries, indent=1).encode()),
        Sample("lines.ndjson", "\n".join(map(json.dumps, entries)).encode()),
        Sample("notes.csv", table.encode()),
        Sample("readings.csv.gz", table.encode(), gzip.compress),
        Sample("readings.zip", table.encode(), zipped),
        Sample("sheet.xlsx", plain.encode(), as_workbook),
        Sample("utf16.csv", table.encode("utf-16")),
    ]  # fmt: skip
    return found


def as_workbook(data: bytes) -> bytes:
    """A sheet of the cells of a text, numbers as numbers."""
    text = "".join(mark for mark in data.decode("utf-8", "replace") if mark == "\n" or mark.isprintable())
    return workbook(
        [[float(c) if re.fullmatch(r"\d{1,9}", c) else c for c in row.split(",")] for row in text.split("\n")]
    )


def zipped(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("readings.csv", data)
    return out.getvalue()


def damaged(data: bytes, draw: random.Random) -> bytes:
    """The bytes after one to four mishaps."""
    for _ in range(draw.choice((1, 1, 2, 4))):
        data = draw.choice(MISHAPS)(data, draw)
    return data


def _place(data: bytes, draw: random.Random) -> int:
    return draw.randrange(len(data)) if data else 0


def _flip(data: bytes, draw: random.Random) -> bytes:
    at = _place(data, draw)
    return data[:at] + bytes([(data[at] if data else 0) ^ (1 << draw.randrange(8))]) + data[at + 1 :]


def _cut_off(data: bytes, draw: random.Random) -> bytes:
    return data[: _place(data, draw)]


def _hole(data: bytes, draw: random.Random) -> bytes:
    at = _place(data, draw)
    return data[:at] + data[at + draw.choice((1, 2, 9, 80)) :]


def _stuck_in(data: bytes, draw: random.Random) -> bytes:
    at = _place(data, draw)
    return data[:at] + draw.choice(STRANGE) + data[at:]


def _line_twice(data: bytes, draw: random.Random) -> bytes:
    lines = data.split(b"\n")
    at = draw.randrange(len(lines))
    return b"\n".join(lines[: at + 1] + lines[at:])


def _lines_swapped(data: bytes, draw: random.Random) -> bytes:
    lines = data.split(b"\n")
    one, other = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _line_cut(data: bytes, draw: random.Random) -> bytes:
    lines = data.split(b"\n")
    at = draw.randrange(len(lines))
    lines[at] = lines[at][: draw.randrange(len(lines[at]) + 1)]
    return b"\n".join(lines)


def _zeros(data: bytes, draw: random.Random) -> bytes:
    at, most = _place(data, draw), draw.choice((1, 16, 512))
    return data[:at] + b"\x00" * len(data[at : at + most]) + data[at + most :]


def _twice(data: bytes, draw: random.Random) -> bytes:
    return data + data[_place(data, draw) :]


STRANGE = [
    b'"', b'"', b'""', b"\n", b"\r", b",", b";", b"\t", b"\x00", b"'", b"(", b"1", b"-", b"=", b"{", b"]", b" ",
    b"\xe4", b"\xff", "٣½\u202e".encode(), "²".encode(), b"\x1b[2J", b"NaN", b"9" * 40, b"<", b"+01:30", b"Z",
]  # fmt: skip
MISHAPS: list[Callable[[bytes, random.Random], bytes]] = [
    _flip, _cut_off, _hole, _stuck_in, _stuck_in, _stuck_in, _line_twice, _lines_swapped, _line_cut, _zeros, _twice,
]  # fmt: skip


def run(files: int, seed: int, tell: Callable[[int], None] = lambda _n: None) -> dict[str, Tally]:
    """Damages, reads and judges so many files, the samples in turn. The tallies say what did not hold."""
    draw = random.Random(seed)
    found: dict[str, Tally] = {}
    kept = samples()
    with tempfile.TemporaryDirectory() as folder:
        for at in range(files):
            sample = kept[at % len(kept)]
            tally = found.setdefault(sample.name, Tally())
            inside = damaged(sample.data, draw)
            data = sample.pack(inside) if sample.pack else inside
            if sample.pack and draw.random() < 0.5:
                data = damaged(sample.pack(sample.data), draw)
            read_and_judge(tally, Path(folder) / Path(sample.name).name, data, f"seed {seed} file {at}")
            tell(at + 1)
    return found


def read_and_judge(tally: Tally, path: Path, data: bytes, which: str) -> None:
    path.write_bytes(data)
    tally.tried += 1
    try:
        batches = read_file(path, PERSON, now_utc=NOW, layouts=LAYOUTS)
    except FileTrouble as trouble:
        unforeseen = trouble.code in {"reading_failed", "too_much_memory", "too_much_time"}
        tally.wrong += [f"{which}: {trouble}"] if unforeseen else []
        tally.waiting += type(trouble).__name__ == "FileWaits"
        tally.refused += type(trouble).__name__ == "FileRefused"
        return
    except Exception as fault:  # noqa: BLE001 - that is what is looked for
        tally.wrong.append(f"{which}: {type(fault).__name__}: {fault}")
        return
    tally.read += 1
    text = _text_of(path.name, data)
    tally.rows += sum(batch.rows_offered for batch in batches)
    _check_rows(tally, batches, text, which)
    for batch in batches:
        _check_values(tally, batch, text, which)


def _check_rows(tally: Tally, batches: tuple[Batch, ...], text: str, which: str) -> None:
    """Every line that begins as a row does is offered."""
    if _is_table(text):
        lines = sum(1 for line in text.split("\n") if _ROW.match(line))
        offered = sum(batch.rows_offered for batch in batches)
        if lines > offered:
            tally.wrong.append(f"{which}: {lines} lines begin as rows, {offered} were offered")


def _is_table(text: str) -> bool:
    return text.startswith("time,")


def _check_values(tally: Tally, batch: Batch, text: str, which: str) -> None:
    told = _told(text)
    for at, value, alike in _landed(batch):
        tally.values += 1
        if not any(number in told.get(at, ()) for number in alike):
            tally.wrong.append(
                f"{which}: {value} landed at minute {at}, where the file has {sorted(told.get(at, ()))[:9]}"
            )


def _landed(batch: Batch) -> Iterator[tuple[int, float, tuple[float, ...]]]:
    """Minute of the hour, value, and the numbers that would be written for it."""
    for frame in (batch.readings, batch.fingers):
        for at, value, beyond in frame.select("at_utc", "glucose_mg_dl", "range").iter_rows():
            if beyond != "in":  # a word stands there, or a number with a mark before it
                continue
            yield at.minute, value, (round(value, 4), round(value / MMOL, 1), round(value / MMOL, 2))
    for at, amount, grams in batch.doses.select("taken_at_utc", "amount", "grams").iter_rows():
        if amount is not None:
            yield at.minute, amount, (amount, round(grams, 4) if grams is not None else amount)


def _told(text: str) -> dict[int, set[float]]:
    """For each minute of the hour, the numbers on a line (of JSON: in an object) with a time of that minute.

    A time has other minutes in UTC where its offset has some. Numbers in words and fractions count as any of them.
    """
    found: dict[int, set[float]] = {}
    above: list[int] = []
    for line in re.split("}" if text.lstrip()[:1] in {"[", "{"} else "\n", text):
        minutes = [int(one) for one in _MINUTE.findall(line)] or above
        above = minutes if not _NUMBER.search(line) else []
        shifts = {0, *(int(one) for one in _OFFSET.findall(line))}
        numbers = {float(one.replace(",", ".")) for one in _NUMBER.findall(line)}
        numbers |= {float(one) for one in re.findall(r"\d+(?:\.\d+)?", line)}  # a comma may part cells
        numbers |= _spelled(line)
        for minute in minutes:
            for shift in shifts:
                found.setdefault((minute - shift) % 60, set()).update(numbers)
                found.setdefault((minute + shift) % 60, set()).update(numbers)
    return found


def _spelled(line: str) -> set[float]:
    numbers: set[float] = set()
    if re.search(r"half|halb|½|1/2|one|two|three|four|five|six|a |ein|zwei|drei|\bhalves", line, re.IGNORECASE):
        numbers |= {n / 2 for n in range(1, 40)}
    for top, bottom in re.findall(r"(\d{1,3})\s?/\s?(\d{1,3})", line):
        if int(bottom):
            numbers |= {round(int(top) / int(bottom) + whole, 4) for whole in range(10)}
    for one in (float(each.replace(",", ".")) for each in _NUMBER.findall(line)):
        numbers |= {round(one * float(other.replace(",", ".")), 4) for other in _NUMBER.findall(line)}
    return numbers


def _text_of(name: str, data: bytes) -> str:
    """The text of a damaged file that could be read, found without the reader under test."""
    if name.endswith(".gz"):
        data = gzip.decompress(data)
    elif name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            data = b"\n".join(packed.read(one) for one in packed.namelist())
    elif name.endswith(".xlsx"):
        return _sheet_text(data)
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"} or data[1:2] == b"\x00":
        text = data.decode("utf-16" if data[:2] in {b"\xff\xfe", b"\xfe\xff"} else "utf-16-le", "replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:  # a byte that is none of UTF-8: what is written so is Windows text
            text = data.decode("cp1252", "replace")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _sheet_text(data: bytes) -> str:
    import openpyxl

    sheet = openpyxl.load_workbook(io.BytesIO(data), read_only=True).active
    return "\n".join(
        ",".join(f"{cell:%Y-%m-%d %H:%M}" if isinstance(cell, datetime) else str(cell) for cell in row)
        for row in sheet.iter_rows(values_only=True)
    )


def table(found: dict[str, Tally]) -> str:
    """What was tried and what held, a line a sample."""
    lines = ["| sample | files | read | waited | refused | rows | values | did not hold |", "| --- " * 8 + "|"]
    total: Counter[str] = Counter()
    for name, one in sorted(found.items()):
        counts = {"tried": one.tried, "read": one.read, "waiting": one.waiting, "refused": one.refused,
                  "rows": one.rows, "values": one.values, "wrong": len(one.wrong)}  # fmt: skip
        total.update(counts)
        lines.append(f"| {name} | " + " | ".join(map(str, counts.values())) + " |")
    lines.append("| all | " + " | ".join(map(str, total.values())) + " |")
    return "\n".join(lines)
