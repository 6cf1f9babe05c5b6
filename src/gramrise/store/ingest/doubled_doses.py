"""Doses that may be one glucose written down twice: equal amounts within minutes, from different imports."""

from typing import Final
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.batch import Question
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant
from gramrise.store.questions.kinds import APART, MAYBE_TWICE, SAME

# Our choice: two people who write the same candy down are rarely more than five minutes apart.
WITHIN_MINUTES: Final = 5


def questions_for(new: pl.DataFrame, batch: pl.DataFrame, standing: pl.DataFrame, zone: ZoneInfo) -> list[Question]:
    """One question for each new dose that has an equal one near it from elsewhere.

    new       stored-form doses this batch adds
    batch     all stored-form doses of the batch: what one log states beside each other is not the same glucose
    standing  stored-form doses known before, of the same person
    zone      the clock on which the question names the times
    """
    key = ["minute", "source", "ordinal"]
    others = standing.join(batch, on=key, how="anti")
    if new.height == 0 or others.height == 0:
        return []
    near = _near(new, others)
    equal = pl.col("grams").eq(pl.col("grams_known")) | (
        pl.col("amount").eq(pl.col("amount_known")) & pl.col("amount_unit").eq(pl.col("amount_unit_known"))
    )
    pairs = near.filter(equal).sort(*key, "taken_at_utc_known").unique(subset=key, keep="first", maintain_order=True)
    return [_question(row, zone) for row in pairs.to_dicts()]


def _near(new: pl.DataFrame, others: pl.DataFrame) -> pl.DataFrame:
    """Every pair no further apart than WITHIN_MINUTES."""
    reach = WITHIN_MINUTES * MICROSECONDS_IN_A_MINUTE
    known = others.rename({name: f"{name}_known" for name in others.columns})
    spans = new.with_columns(low=pl.col("taken_at_utc") - reach, high=pl.col("taken_at_utc") + reach)
    return spans.join_where(
        known, pl.col("taken_at_utc_known") >= pl.col("low"), pl.col("taken_at_utc_known") <= pl.col("high")
    )


def _question(row: dict[str, object], zone: ZoneInfo) -> Question:
    taken, known = (instant(int(str(row[name]))) for name in ("taken_at_utc", "taken_at_utc_known"))
    first, second = (at.astimezone(zone) for at in sorted((taken, known)))
    return Question(
        person_id=str(row["person_id"]),
        kind=MAYBE_TWICE,
        key=f"{taken.isoformat()} {row['source']} {row['ordinal']} / {known.isoformat()} {row['source_known']}",
        sentence=(
            "Two logs name the same amount of glucose within minutes of each other, "
            f"on {first:%a %d %b %Y} at {first:%H:%M} and {second:%H:%M}. Is it the same glucose written down twice?"
        ),
        answers=(SAME, APART),
        about={"taken_at_utc": taken.isoformat(), "source": row["source"], "ordinal": row["ordinal"]},
    )
