"""Doses of different imports that may be one glucose written down twice: equal amounts within minutes, or one in doubt.

A file in which a doubted amount was mended states it beside the doubted one: both would count once that is answered.
"""

from typing import Final
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.batch import Question
from gramrise.domain.questions import dose_key
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant
from gramrise.store.questions.kinds import APART, LEFT_OUT_AMOUNT, MAYBE_TWICE, SAME

# Our choice: two people who write the same candy down are rarely more than five minutes apart.
WITHIN_MINUTES: Final = 5


def questions_for(new: pl.DataFrame, batch: pl.DataFrame, standing: pl.DataFrame, zone: ZoneInfo) -> list[Question]:
    """One question for each new dose that has an equal one near it from elsewhere, or of whose minute one is in doubt.

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
    one_in_doubt = (pl.col("minute") == pl.col("minute_known")) & (_in_doubt("") | _in_doubt("_known"))
    pairs = (
        near.filter(equal | one_in_doubt)
        .sort(*key, "taken_at_utc_known")
        .unique(subset=key, keep="first", maintain_order=True)
    )
    return [_question(row, zone) for row in pairs.to_dicts()]


def _in_doubt(suffix: str) -> pl.Expr:
    """Whether nobody has said what a dose was of, or how much: as the log was written, whatever was answered since."""
    unknown = (pl.col(f"source{suffix}") == "") | pl.col(f"amount{suffix}").is_null()
    return pl.col(f"grams{suffix}").is_null() & unknown


def _near(new: pl.DataFrame, others: pl.DataFrame) -> pl.DataFrame:
    """Every pair no further apart than WITHIN_MINUTES."""
    reach = WITHIN_MINUTES * MICROSECONDS_IN_A_MINUTE
    known = others.rename({name: f"{name}_known" for name in others.columns})
    spans = new.with_columns(low=pl.col("taken_at_utc") - reach, high=pl.col("taken_at_utc") + reach)
    return spans.join_where(
        known, pl.col("taken_at_utc_known") >= pl.col("low"), pl.col("taken_at_utc_known") <= pl.col("high")
    )


def _question(row: dict[str, object], zone: ZoneInfo) -> Question:
    """Where the two are the same, what the question is about is left out: the doubted one, else the new one."""
    new = {name: row[name] for name in ("taken_at_utc", "source", "ordinal", "grams", "amount")}
    known = {name: row[f"{name}_known"] for name in new}
    known_in_doubt = known["grams"] is None and known["source"] == "" and new["grams"] is not None
    left_out, other = (known, new) if known_in_doubt else (new, known)
    at, other_at = (instant(int(str(one["taken_at_utc"]))) for one in (left_out, other))
    first, second = (each.astimezone(zone) for each in sorted((at, other_at)))
    mine = dose_key(at.isoformat(), left_out["source"], left_out["ordinal"])
    return Question(
        person_id=str(row["person_id"]),
        kind=MAYBE_TWICE,
        key=f"{mine} / {other_at.isoformat()} {other['source']}",
        sentence=(
            "Two logs name glucose that may be the same, "
            f"on {first:%a %d %b %Y} at {first:%H:%M} and {second:%H:%M}. Is it the same glucose written down twice?"
        ),
        answers=(SAME, APART),
        about={
            "taken_at_utc": at.isoformat(),
            "source": left_out["source"],
            "ordinal": left_out["ordinal"],
            LEFT_OUT_AMOUNT: left_out["amount"],
        },
    )
