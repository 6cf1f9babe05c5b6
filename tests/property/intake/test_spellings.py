"""Tables in random spellings: read back to the truth, or waiting; never read wrongly, never losing a row unnamed."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.variants import NOW, PERSON, Variant, trace

from gramrise.intake import FileTrouble, read_file

FORMS = [
    "%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M", "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M", "%d.%m.%y %H:%M", "%m/%d/%y %I:%M %p",
    "%d/%m/%Y %I:%M %p", "%Y/%m/%d %H:%M:%S", "%y-%m-%d %H:%M", "%d %b %Y %H:%M", "%d-%b-%y %H:%M", "%b %d %Y %H:%M",
    "%Y-%m-%dT%H:%M:%S%z", "%d.%m. %H:%M", "%Y%m%d %H%M", "%Y.%m.%d %H.%M", "%d.%m.%Y, %H:%M Uhr", "%A %d %B %Y %H:%M",
    "%j %H:%M", "%m-%d-%Y %I:%M:%S %p",
]  # fmt: skip
HEADERS = [
    ("Time", "Glucose"), ("Zeit", "Zucker"), ("Horodatage", "Glycémie"), ("Momento", "Glucosa"),
    ("Timestamp", "Blood sugar"), ("Datum", "Messwert"), ("When", "Level"), ("X", "Y"), ("Time (UTC)", "Glucose"),
]  # fmt: skip
PREAMBLES = [(), (), ("Kim", ""), ("a;b,c",), ("Report of the family", "", "Day 1, in the kitchen"), ("Unit,mg/dL",)]


@st.composite
def spellings(draw):
    """A trace of some months of 2024 to 2026 in some spelling."""
    start = datetime(draw(st.sampled_from([2024, 2025, 2026])), draw(st.integers(1, 4)), draw(st.integers(1, 28)),
                     draw(st.integers(0, 23)), draw(st.integers(0, 59)), tzinfo=UTC)  # fmt: skip
    if draw(st.booleans()) and draw(st.booleans()):
        start = datetime(2025, 10, 25, draw(st.integers(0, 23)), tzinfo=UTC)
    rows = trace(start, draw(st.sampled_from([3, 20, 60, 300])), draw(st.sampled_from([1, 5, 15, 60])))
    unit = draw(st.sampled_from(["mg/dL", "mmol/L"]))
    first, second = draw(st.sampled_from(HEADERS))
    header = (first, second + (f" ({unit})" if draw(st.booleans()) else ""))
    headed = draw(st.integers(0, 9)) > 0
    utc = headed and first.endswith("(UTC)")
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    form = draw(st.sampled_from(FORMS))
    return Variant(
        "drawn",
        truth=[row for row in rows if draw(st.integers(0, 9)) or row is rows[0]] if len(rows) < 30 else rows,
        unit=unit,
        header=header if headed else None,
        delimiter=delimiter,
        decimal="." if delimiter == "," else draw(st.sampled_from([".", ","])),
        form=form.replace(",", "") if delimiter == "," else form,
        zone=ZoneInfo("UTC") if utc else ZoneInfo("Europe/Berlin"),
        newest_first=draw(st.booleans()),
        preamble=draw(st.sampled_from(PREAMBLES)),
        line_end=draw(st.sampled_from(["\n", "\r\n"])),
        encoding=draw(st.sampled_from(["utf-8", "cp1252", "utf-16"])),
        low_word=draw(st.sampled_from(["", "", "Low", "niedrig", "<40"])),
    )


def test_a_table_in_any_spelling_is_read_rightly_or_waits(tmp_path_factory):
    rows_read = []

    @settings(
        max_examples=60, deadline=timedelta(seconds=20), derandomize=True, suppress_health_check=list(HealthCheck)
    )
    @given(spellings())
    def check(variant):
        path = tmp_path_factory.mktemp("spelled") / "t.csv"
        path.write_bytes(variant.data())
        try:
            batches = read_file(path, PERSON, now_utc=NOW)
        except FileTrouble as trouble:
            assert "To mend" in str(trouble)  # noqa: PT017 - the other way a table may rightly go
            return
        truth = {(at, round(level, 3), side) for at, level, side in variant.expected()}
        columns = ("at_utc", "glucose_mg_dl", "range")
        read = {(at, round(level, 3), side) for b in batches for at, level, side in b.readings.select(columns).rows()}
        assert read <= truth
        assert len(truth) - len(read) <= sum(len(batch.quarantine) for batch in batches)
        rows_read.append(len(read))

    check()
    assert len(rows_read) >= 8  # tables read; the others wait
    assert sum(rows_read) >= 300
