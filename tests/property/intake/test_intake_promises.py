"""Promises of intake on made-up files: pieces in any order and spelling give one state; readers never read wrongly."""

import json
import re
import sys
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import GramriseError
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import load_settings, load_words, read_batches, read_file
from gramrise.intake.cells.amounts import read_amount
from gramrise.intake.cells.clock_changes import both_passes, place
from gramrise.intake.cells.numbers import read_number
from gramrise.intake.cells.written_times import DateStyle, read_written_time

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 6, 1, tzinfo=UTC)
TABLETS = Source("tablets", Form.TABLET, 4.0, None, StatedAs.ANHYDROUS)
BOTTLE = Source("night bottle", Form.LIQUID, None, 0.25, StatedAs.ANHYDROUS)
SINCE = date(2000, 1, 1)
PERSON = Person("P1", date(2014, 1, 1), Dated(((SINCE, BERLIN),)), sources=Dated(((SINCE, (TABLETS, BOTTLE)),)))
SETTINGS, WORDS = load_settings(), load_words()
quick = settings(
    max_examples=12, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
many = settings(quick, max_examples=120)

# Over the autumn night and the noon after it.
NIGHT = [
    (datetime(2025, 10, 25, 21, 3, tzinfo=UTC) + timedelta(minutes=5 * at), float(60 + at * 7919 % 150))
    for at in range(140)
]


def _local(at: datetime) -> str:
    return f"{at.astimezone(BERLIN):%Y-%m-%d %H:%M}"


def _with_offset(at: datetime) -> str:
    return at.astimezone(BERLIN).isoformat()


def _elsewhere(at: datetime) -> str:
    return at.astimezone(ZoneInfo("Asia/Kathmandu")).isoformat()


def _zulu(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


def _german(at: datetime) -> str:
    return f"{at.astimezone(BERLIN):%d.%m.%Y %H:%M}"


STAMPS = st.sampled_from([_local, _with_offset, _elsewhere, _zulu, _german])


@st.composite
def pieces(draw):
    """A stretch of the night in some spelling: (rows, bytes, suffix)."""
    begin = draw(st.integers(0, len(NIGHT) - 2))
    end = draw(st.integers(begin + 1, len(NIGHT)))
    rows, stamp = NIGHT[begin:end], draw(STAMPS)
    told = rows[::-1] if draw(st.booleans()) else rows
    if draw(st.booleans()):
        entries = [{"time": stamp(at), "glucose (mg/dL)": level} for at, level in told]
        return rows, json.dumps(entries).encode(), ".json"
    mark = draw(st.sampled_from([",", ";", "\t"]))
    lines = [f"time{mark}glucose (mg/dL)", *(f"{stamp(at)}{mark}{level:.0f}" for at, level in told)]
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    return rows, ("\r\n" if draw(st.booleans()) else "\n").join([*lines, ""]).encode(encoding), ".csv"


def _states(files, folder: Path) -> dict[datetime, float]:
    """What is known after taking in files one after the other, as a store keeps it: by instant."""
    state: dict[datetime, float] = {}
    for at, (_, data, suffix) in enumerate(files):
        path = folder / f"piece{at}{suffix}"
        path.write_bytes(data)
        for batch in read_file(path, PERSON, now_utc=NOW):
            state.update(batch.readings.select("at_utc", "glucose_mg_dl").rows())
    return state


@quick
@given(st.lists(pieces(), min_size=1, max_size=5), st.randoms(use_true_random=False), STAMPS)
def test_pieces_in_any_order_overlap_and_spelling_give_one_state(tmp_path_factory, found, order, stamp):
    folder = tmp_path_factory.mktemp("pieces")
    lines = ["time,glucose (mg/dL)", *(f"{stamp(at)},{level:.0f}" for at, level in NIGHT), ""]
    whole = (NIGHT, "\n".join(lines).encode(), ".csv")
    files = [*found, whole, *found[:1]]
    order.shuffle(files)
    assert _states(files, folder) == dict(NIGHT)


@quick
@given(pieces())
def test_a_piece_alone_never_lands_where_the_truth_is_not(tmp_path_factory, piece):
    """Rows of an hour that nobody can place are set aside, not guessed."""
    state = _states([piece], tmp_path_factory.mktemp("piece"))
    assert state.items() <= dict(piece[0]).items()
    assert set(dict(piece[0])) - set(state) <= {
        at for at, _ in NIGHT if datetime(2025, 10, 26, 0, tzinfo=UTC) <= at < datetime(2025, 10, 26, 2, tzinfo=UTC)
    }


DOSES = [(datetime(2026, 3, 13, 1, tzinfo=UTC) + timedelta(minutes=at * 17), 1 + at % 4) for at in range(40)]


@quick
@given(st.permutations(range(40)), st.integers(1, 6))
def test_doses_in_any_order_and_any_pieces_are_the_same_doses(tmp_path_factory, order, parts):
    folder = tmp_path_factory.mktemp("doses")
    known = set()
    for part in range(parts):
        rows = [DOSES[at] for at in order if at % parts == part or at % 7 == 0]
        path = folder / f"d{part}.csv"
        path.write_text("time,source,amount\n" + "".join(f"{_local(at)},tablets,{count}\n" for at, count in rows))
        frame = read_file(path, PERSON, now_utc=NOW)[0].doses
        known |= set(frame.select("taken_at_utc", "source", "ordinal", "grams").rows())
    assert known == {(at, "tablets", 1, count * 4.0) for at, count in DOSES}


@quick
@given(st.lists(st.sampled_from(["3", "1/2", "2,5"]), min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_ordinals_within_a_minute_do_not_depend_on_the_order_of_the_file(tmp_path_factory, amounts, order):
    folder = tmp_path_factory.mktemp("minute")
    frames = []
    for name in ("a", "b"):
        path = folder / f"{name}.csv"
        path.write_text("time;source;amount\n" + "".join(f"2026-03-13 10:00;tablets;{text}\n" for text in amounts))
        frames.append(read_file(path, PERSON, now_utc=NOW)[0].doses)
        order.shuffle(amounts)
    assert frames[0].equals(frames[1])


def test_blocks_of_any_size_give_what_the_careful_cutter_gives(tmp_path_factory):
    both_read = []

    @quick
    @given(
        st.lists(
            st.tuples(st.integers(0, 5000), st.integers(20, 900), st.sampled_from(["", "x", '"a,b"', '"a\nb"'])),
            max_size=60,
        ),
        st.booleans(),
        st.integers(60, 4000),
    )
    def check(rows, crlf, block):
        lines = ["Kept by the family", "", "time,sensor glucose (mg/dL),note"]
        lines += [
            f"{datetime(2026, 3, 1, tzinfo=UTC) + timedelta(minutes=at):%Y-%m-%d %H:%M},{level},{note}"
            for at, level, note in rows
        ]
        path = tmp_path_factory.mktemp("blocks") / "t.csv"
        path.write_bytes(("\r\n" if crlf else "\n").join([*lines, ""]).encode())
        careful = _outcome(path, {"careful_bytes": 10**9})
        assert careful == _outcome(path, {"careful_bytes": 0, "block_bytes": block})
        both_read.append(not isinstance(careful, str))

    check()
    assert sum(both_read) >= 10  # of 25: the others wait, both with the same code


def _outcome(path: Path, changed: dict[str, int]) -> object:
    """What a file gives under changed settings, or the code with which it waits."""
    try:
        (batch,) = read_file(path, PERSON, now_utc=NOW, settings=SETTINGS.model_copy(update=changed))
    except GramriseError as trouble:
        return getattr(trouble, "code", "")
    named = [(one.trouble.row, one.trouble.code) for one in batch.quarantine if one.trouble.code != "two_values"]
    return set(batch.readings["at_utc"]), set(batch.events["at_utc"]), batch.rows_offered, named


def test_a_file_read_in_blocks_is_bounded_by_the_block(tmp_path):
    path = tmp_path / "t.csv"
    start = datetime(2020, 1, 1, tzinfo=UTC)
    rows = (f"{start + timedelta(minutes=5 * at):%Y-%m-%dT%H:%MZ},{100 + at % 50}" for at in range(20_000))
    path.write_text("time,glucose (mg/dL)\n" + "\n".join(rows) + "\n")
    changed = SETTINGS.model_copy(update={"careful_bytes": 0, "block_bytes": 50_000})
    batches = list(read_batches(path, PERSON, now_utc=NOW, settings=changed))
    assert sum(batch.readings.height for batch in batches) == 20_000
    assert max(batch.readings.height for batch in batches) < 2_500
    assert len({batch.content_hash for batch in batches}) == len(batches)


def _refusal_or_read(path):
    """`read`, or the code a file was refused with; any other exception fails the test that asks."""
    try:
        read_file(path, PERSON, now_utc=NOW)
    except GramriseError as trouble:
        _with_code(trouble)
        return trouble.code
    return "read"


def test_any_bytes_are_read_or_refused_with_a_code(tmp_path_factory):
    outcomes = Counter()

    @quick
    @given(st.binary(max_size=3000))
    def check(data):
        path = tmp_path_factory.mktemp("bytes") / "t.csv"
        path.write_bytes(data)
        outcomes[_refusal_or_read(path)] += 1

    check()
    assert outcomes.total() - outcomes["read"] >= 10


AMOUNTS = st.builds("{}{} {}".format, st.integers(-2, 30), st.sampled_from(["", ",5", "/2"]),
                    st.sampled_from(["", "pieces", "tablets", "mL", "g", "night bottle", "of what"]))  # fmt: skip
WRITTEN_TIMES = st.builds("{:02}{mark}{:02}{mark}{} {:02}:{:02}".format, st.integers(0, 32), st.integers(1, 13),
                          st.integers(1999, 2030), st.integers(0, 25), st.integers(0, 61),
                          mark=st.sampled_from(".-/"))  # fmt: skip
TEXTS = st.text(st.sampled_from('0123456789.,:;/-+ \t"\n|<>=[]{}TZapmwLowtiegluc()½'), max_size=400)


def test_any_text_is_read_or_refused_with_a_code(tmp_path_factory):
    read = []

    @quick
    @given(TEXTS, st.sampled_from([1, 40, 40]))
    def check(text, good_rows):
        path = tmp_path_factory.mktemp("text") / "t.csv"
        path.write_text("\n".join(["time,glucose (mg/dL)", *_rows_of_hour()[:good_rows], text]), "utf-8")
        try:
            batches = read_file(path, PERSON, now_utc=NOW)
        except GramriseError as trouble:
            _with_code(trouble)
            return
        for batch in batches:
            kept = batch.readings.height + batch.fingers.height
            excluded = batch.rows_repeated + batch.rows_passed_over + len(batch.quarantine)
            assert kept + excluded == batch.rows_offered
            assert batch.readings["glucose_mg_dl"].is_finite().all()
            read.append(batch.rows_offered)

    check()
    assert len(read) >= 10
    assert sum(read) >= 200


# An hour of a sensor, a row a line, and what a slip of the hand or of a program may put among it.
HOUR = [(datetime(2026, 3, 13, 13, tzinfo=UTC) + timedelta(minutes=5 * at), float(100 + at)) for at in range(40)]
# A word alone may be a name, by which the whole file waits; that is tried elsewhere.
JUNK = st.text(st.sampled_from("abcxyz ?#%&*!0123456789.:-"), min_size=1, max_size=25).filter(
    lambda text: text.strip() and not re.fullmatch(r"[a-z]{2,}", text.strip(" -*#=~_.,:;|()[]<>"))
)


def _rows_of_hour() -> list[str]:
    return [f"{_zulu(at)},{level:.0f}" for at, level in HOUR]


@quick
@given(st.lists(st.tuples(st.integers(1, 40), JUNK), min_size=1, max_size=2))
def test_every_good_row_lands_but_those_that_may_be_cut_and_nothing_else_does(tmp_path_factory, junk):
    """What stands under a row may be the rest of it: '21' and '5' were 215. Both are set aside, and say so."""
    lines = _rows_of_hour()
    for at, text in sorted(junk, key=lambda one: -one[0]):
        lines.insert(at, text)
    path = tmp_path_factory.mktemp("junk") / "t.csv"
    path.write_text("time,glucose (mg/dL)\n" + "\n".join(lines) + "\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    told = {row.trouble.row: row.trouble.code for row in batch.quarantine}
    strange = {row for row, line in enumerate(lines, 2) if line not in set(_rows_of_hour())}
    beside = {row + step for row in strange for step in (-1, 1)}
    cut = {row for row, code in told.items() if code == "line_broken"} - strange
    assert cut <= beside
    kept = [line for row, line in enumerate(lines, 2) if row not in strange | cut]
    read = batch.readings.select("at_utc", "glucose_mg_dl").rows()
    assert [f"{_zulu(at)},{level:.0f}" for at, level in read] == kept
    assert set(told) <= strange | cut
    assert batch.rows_passed_over >= len(strange - set(told))


@quick
@given(st.lists(st.tuples(st.integers(0, 39), st.integers(0, 23), st.sampled_from(b"0123456789abcZ.:- ")), max_size=2))
def test_a_byte_gone_wrong_changes_no_row_but_its_own(tmp_path_factory, slips):
    rows = [bytearray(row, "ascii") for row in _rows_of_hour()]
    for row, at, byte in slips:
        if at < len(rows[row]) and rows[row][at : at + 1] != b",":
            rows[row][at] = byte
    whole = [at for at, (now, before) in enumerate(zip(rows, _rows_of_hour(), strict=True)) if now.decode() == before]
    path = tmp_path_factory.mktemp("slips") / "t.csv"
    path.write_bytes(b"time,glucose (mg/dL)\n" + b"\n".join(rows) + b"\n")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    read = set(batch.readings.select("at_utc", "glucose_mg_dl").rows())
    told = {row.trouble.row: row.trouble.code for row in batch.quarantine}
    # A row that is whole is lost only where a damaged one now says another value for its instant; and that is told.
    assert {told.get(at + 2) for at in whole if HOUR[at] not in read} <= {"two_values"}
    assert len(read) <= len(HOUR)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8) | st.integers(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=12,
)


json_tables = st.lists(
    st.dictionaries(st.sampled_from(["time", "glucose (mg/dL)", "x"]), json_values), min_size=1, max_size=5
)


def test_any_json_is_read_or_refused_with_a_code(tmp_path_factory):
    outcomes = Counter()

    @quick
    @given(json_values | json_tables)
    def check(value):
        path = tmp_path_factory.mktemp("json") / "t.json"
        path.write_text(json.dumps(value), "utf-8")
        outcomes[_refusal_or_read(path)] += 1

    check()
    assert outcomes.total() - outcomes["read"] >= 10


def test_any_words_give_an_amount_above_zero_or_a_question_or_nothing():
    given_amounts = []

    @many
    @given(st.text(max_size=60) | TEXTS | AMOUNTS)
    def check(text):
        read = read_amount(text, (TABLETS, BOTTLE), WORDS)
        for one in read.given:
            assert one.amount is None or one.amount > 0
            assert one.grams is not None or read.question
        number = read_number(text)
        assert number is None or number >= 0
        given_amounts.extend(read.given)

    check()
    assert len(given_amounts) >= 50


def test_any_words_are_a_wall_time_or_none():
    read = []

    @many
    @given(st.text(max_size=40) | TEXTS | WRITTEN_TIMES, st.sampled_from(["ymd", "dmy", "mdy"]))
    def check(text, order):
        written = read_written_time(text, DateStyle(order, 68))
        assert written is None or written.local.tzinfo is None
        read.append(written)

    check()
    assert len(read) - read.count(None) >= 30


def _with_code(trouble: GramriseError) -> None:
    assert trouble.code not in {"", GramriseError.code}
    assert "To mend: " in str(trouble)


ZONES = [
    "Europe/Berlin",
    "America/New_York",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "Asia/Kathmandu",
    "America/Havana",
]


DAYS_OF_CHANGE = [
    ("Europe/Berlin", datetime(2025, 3, 30)), ("Europe/Berlin", datetime(2025, 10, 26)),  # noqa: DTZ001
    ("America/New_York", datetime(2025, 3, 9)), ("America/New_York", datetime(2025, 11, 2)),  # noqa: DTZ001
    ("Australia/Lord_Howe", datetime(2024, 4, 7)), ("Australia/Lord_Howe", datetime(2024, 10, 6)),  # noqa: DTZ001
    ("Africa/Casablanca", datetime(2024, 3, 10)), ("Africa/Casablanca", datetime(2024, 4, 14)),  # noqa: DTZ001
    ("Asia/Kathmandu", datetime(2025, 3, 30)), ("America/Havana", datetime(2025, 11, 2)),  # noqa: DTZ001
]  # fmt: skip


def test_both_passes_are_those_of_the_standard_library():
    kinds = Counter()

    @quick
    @given(
        st.sampled_from(DAYS_OF_CHANGE),
        st.lists(st.datetimes(datetime(2015, 1, 1), datetime(2027, 1, 1)), min_size=1, max_size=40),  # noqa: DTZ001
    )
    def check(day_of_change, anywhere):
        zone, day = day_of_change
        walls = [*anywhere, *(day + timedelta(minutes=at) for at in range(0, 240, 10))]
        place_of = ZoneInfo(zone)
        first, second = both_passes(pl.Series(walls, dtype=pl.Datetime("us")), place_of)
        for wall, one, other in zip(walls, first.to_list(), second.to_list(), strict=True):
            passes = [wall.replace(tzinfo=place_of, fold=fold).astimezone(UTC) for fold in (0, 1)]
            exists = passes[0].astimezone(place_of).replace(tzinfo=None) == wall
            assert (one, other) == ((passes[0], passes[1]) if exists else (None, None))
            kinds["skipped" if not exists else "repeated" if one != other else "once"] += 1

    check()
    assert kinds["once"] >= 100
    assert kinds["repeated"] >= 20
    assert kinds["skipped"] >= 10


def test_a_regular_trace_is_placed_exactly_from_any_start():
    surely = []

    @quick
    @given(st.integers(0, 2_000), st.integers(1, 15), st.booleans(), st.sampled_from(ZONES))
    def check(offset, step, backwards, zone):
        start = datetime(2025, 10, 24, tzinfo=UTC) + timedelta(minutes=offset)
        truth = [start + timedelta(minutes=step * at) for at in range(5_000 // step)]
        truth = truth[::-1] if backwards else truth
        walls = [at.astimezone(ZoneInfo(zone)).replace(tzinfo=None) for at in truth]
        placed = place(pl.Series(walls, dtype=pl.Datetime("us")), ZoneInfo(zone), SETTINGS)
        sure = placed.certain.to_list()
        assert [at for at, certain in zip(placed.at_utc, sure, strict=True) if certain] == [
            at for at, certain in zip(truth, sure, strict=True) if certain
        ]
        surely.append(sum(sure) / len(sure))

    check()
    assert min(surely) > 0.9


@pytest.fixture(autouse=True)
def _room_for_recursion():
    """Hypothesis and the JSON reader both recurse; the limit is put back after each test."""
    before = sys.getrecursionlimit()
    yield
    sys.setrecursionlimit(before)
