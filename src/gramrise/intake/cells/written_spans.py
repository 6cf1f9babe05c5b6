"""Clock times that may be a span, as 07:30-08:00: the end of a span looks like an offset from UTC."""

from typing import Final

import polars as pl

# An offset directly behind hours and minutes; behind seconds or in the form with T it is an offset and nothing else.
_SHAPED: Final = r"(?:^|[^T\d:])(\d{1,2}):(\d{2}) ?([+-])(\d{2}):?(\d{2})\s*$"
_MOST_SPAN_MINUTES = 4 * 60  # our choice: longer from begin to end is no span that a log of doses or readings holds
_CLOCK_CHANGE_MINUTES = 60


def doubtful_offset(texts: pl.Series) -> str | None:
    """A time of a column whose offsets may be the ends of spans; None where they are proved, or in the fewer rows.

    They are proved where all rows have one offset, or two an hour apart, and some row could not be a span.
    """
    parts = _parts(texts.filter(texts != ""))
    shaped = parts.drop_nulls("minutes")
    if shaped.is_empty() or 2 * shaped.height < parts.height:
        return None
    offsets = shaped["minutes"].unique().sort().to_list()
    steady = len(offsets) == 1 or (len(offsets) == 2 and offsets[1] - offsets[0] == _CLOCK_CHANGE_MINUTES)
    spans = _may_be_span(shaped).all()
    return str(shaped["text"][0]) if spans or not steady else None


def lone_spans(texts: pl.Series) -> pl.Series:
    """Whether each time may be a span while most rows of the column have no offset: then it is one."""
    shaped = texts.str.contains(_SHAPED)
    if not shaped.any() or 2 * int(shaped.sum()) >= int((texts != "").sum()):
        return pl.repeat(value=False, n=texts.len(), dtype=pl.Boolean, eager=True)
    return _may_be_span(_parts(texts)).fill_null(value=False)


def _may_be_span(parts: pl.DataFrame) -> pl.Series:
    length = -parts["minutes"] - parts["begin"]
    return (parts["minutes"] < 0) & length.is_between(1, _MOST_SPAN_MINUTES)


def _parts(texts: pl.Series) -> pl.DataFrame:
    """text, begin (minutes of the day) and minutes (of the offset, with its sign), null where a text has none."""
    found = texts.str.extract_groups(_SHAPED).struct
    number = {key: found.field(key).cast(pl.Int32, strict=False) for key in ("1", "2", "4", "5")}
    size = number["4"] * 60 + number["5"]
    return pl.DataFrame({"text": texts, "begin": number["1"] * 60 + number["2"], "size": size}).with_columns(
        minutes=pl.when(found.field("3") == "-").then(-pl.col("size")).otherwise(pl.col("size"))
    )
