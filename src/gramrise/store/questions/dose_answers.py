"""What answers change. The log is kept as it was written; an answer is laid over it when it is read.

kind                  answer              effect on what it is about
any of an amount      piece:NAME, mL:NAME the dose is so many pieces or mL of that source
                      g                   its number is grams
                      g:NAME              its number is grams of that source
                      grams:NUMBER        it is so many grams, typed in
                      not_glucose         it is no dose
maybe_twice           same                the doubted of the two doses, else the later, is left out, and other questions
                                          about it are moot; open: marked; apart: nothing
which_amount          first, second       of two logs' amounts in a minute the other is left out; open, apart: as above
pieces_or_grams       pieces, grams       the amounts of that log are pieces (of its or the only such source), or g
weight_jump, _for_age pounds              the weighing is its number in pounds; leave_out: it is none; kilograms: it
                                          is as written; open: it does not count yet
whose_file            another's id        the import is taken back, to be imported for them (`ingest.undo`)
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import polars as pl
from sqlalchemy import Connection, select

from gramrise.domain.answered_grams import grams_typed
from gramrise.domain.person import Person
from gramrise.domain.sources import AmountUnit
from gramrise.store import schema
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, stored
from gramrise.store.questions.kinds import (
    FIRST,
    LEFT_OUT_AMOUNT,
    MAYBE_TWICE,
    PIECES_OR_GRAMS,
    SAME,
    SECOND,
    WHICH_AMOUNT,
)
from gramrise.store.questions.stored_questions import StoredQuestion, load


def lay_over_doses(doses: pl.DataFrame, asked: Iterable[StoredQuestion], person: Person) -> pl.DataFrame:
    """Stored-form doses as the family has since explained them; rows an answer drops are left out."""
    if doses.height == 0:
        return doses
    # An answer moves a dose to another source and ordinal: the next one still means it by what the log says.
    doses = doses.with_columns(logged_source=pl.col("source"), logged_ordinal=pl.col("ordinal"))
    for each in asked:
        about = each.question.about
        if each.question.kind == PIECES_OR_GRAMS and "amount_unit" in about:
            doses = _whole_log(doses, each, person)
        elif "taken_at_utc" in about and "ordinal" in about:
            doses = _one_dose(doses, _the_dose(_left_out(each)) & _as_asked(about), each)
    return doses.drop("logged_source", "logged_ordinal")


def _left_out(each: StoredQuestion) -> dict[str, Any]:
    """What names the dose that a question is about; of two logs' amounts the one that the answer leaves out."""
    about: dict[str, Any] = dict(each.question.about)
    if each.question.kind == WHICH_AMOUNT and each.answer == SECOND:
        about |= {"taken_at_utc": about["other_at_utc"], "ordinal": about["other_ordinal"]}
    return about


def _the_dose(about: dict[str, Any]) -> pl.Expr:
    minute = stored(datetime.fromisoformat(about["taken_at_utc"])) // MICROSECONDS_IN_A_MINUTE
    named = (
        pl.col("minute") == minute,
        pl.col("logged_source") == about["source"],
        pl.col("logged_ordinal") == about["ordinal"],
    )
    return pl.all_horizontal(*named)


def _as_asked(about: dict[str, Any]) -> pl.Expr:
    """Whether a dose has the amount it was asked about: one that a later file states otherwise is asked about anew."""
    asked_of = next((about[key] for key in ("amount", LEFT_OUT_AMOUNT) if key in about), None)
    known = "amount" in about or LEFT_OUT_AMOUNT in about
    return pl.col("amount").eq_missing(pl.lit(asked_of, pl.Float64)) if known else pl.lit(True)


def _one_dose(doses: pl.DataFrame, hit: pl.Expr, each: StoredQuestion) -> pl.DataFrame:
    if each.question.kind in {MAYBE_TWICE, WHICH_AMOUNT} and each.answer is None:
        marked = pl.concat_str("remarks", pl.lit(MAYBE_TWICE), separator=" ").str.strip_chars(" ")
        return doses.with_columns(remarks=pl.when(hit).then(marked).otherwise(pl.col("remarks")))
    answer = each.answer or ""
    if answer in {"not_glucose", SAME, FIRST, SECOND}:
        return doses.filter(~hit)
    typed = grams_typed(answer)
    word, _, source = answer.partition(":")
    told: dict[str, pl.Expr] = {}
    if typed is not None:
        told = {"amount": pl.lit(typed), "amount_unit": pl.lit("g"), "grams": pl.lit(typed), "source": pl.lit("")}
    elif answer == "g":
        told = {"amount_unit": pl.lit("g"), "grams": pl.col("amount"), "source": pl.lit("")}
    elif source and word in {str(AmountUnit.PIECE), str(AmountUnit.ML)}:
        told = {"amount_unit": pl.lit(word), "source": pl.lit(source)}
    elif source and word == str(AmountUnit.GRAM):
        told = {"amount_unit": pl.lit(word), "grams": pl.col("amount"), "source": pl.lit(source)}
    changed = {name: pl.when(hit).then(value).otherwise(pl.col(name)) for name, value in told.items()}
    return _numbered(doses.with_columns(**changed)) if changed else doses


def _numbered(doses: pl.DataFrame) -> pl.DataFrame:
    """An answer may move a dose to a source that has one in that minute: ordinals are counted anew."""
    among = ("minute", "source")
    return doses.with_columns(ordinal=pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over(*among))


def _whole_log(doses: pl.DataFrame, each: StoredQuestion, person: Person) -> pl.DataFrame:
    """A log is all doses of one source, unit and origin, as the question names them."""
    about = each.question.about
    mine = pl.all_horizontal(pl.col(name) == str(about[name]) for name in ("source", "amount_unit", "origin"))
    unit = about["amount_unit"]
    told: dict[str, pl.Expr] = {}
    if each.answer == "grams" and unit == str(AmountUnit.PIECE):
        told = {"amount_unit": pl.lit(str(AmountUnit.GRAM)), "grams": pl.col("amount"), "source": pl.lit("")}
    elif each.answer == "pieces" and unit == str(AmountUnit.GRAM):
        in_pieces = [source.name for source in person.sources_now() if source.unit is AmountUnit.PIECE]
        of_log = [name for name in in_pieces if name == about["source"]] or in_pieces
        if len(of_log) == 1:
            told = {"amount_unit": pl.lit(str(AmountUnit.PIECE)), "source": pl.lit(of_log[0])}
    if not told:
        return doses
    changed = {name: pl.when(mine).then(value).otherwise(pl.col(name)) for name, value in told.items()}
    return _numbered(doses.with_columns(**changed))


def moot(connection: Connection, asked: Sequence[StoredQuestion]) -> set[int]:
    """Open questions about doses that are left out, as they are the same as another, or that are others by now."""
    of_doses = [each for each in asked if each.answer is None and _named(each) is not None]
    left_out = {
        _named(each)
        for person_id in {each.question.person_id for each in of_doses}
        for each in load(connection, person_id, only_open=False, kinds=(MAYBE_TWICE, WHICH_AMOUNT))
        if each.answer in {SAME, FIRST, SECOND}
    }
    hidden = {each.question_id for each in of_doses if _named(each) in left_out}
    return hidden | _of_other_amounts(connection, of_doses)


def _of_other_amounts(connection: Connection, of_doses: Sequence[StoredQuestion]) -> set[int]:
    """Questions about an amount that no longer stands where it stood: a later file states another."""
    doses = schema.doses
    found = set()
    for each in of_doses:
        about = each.question.about
        if "amount" not in about:
            continue
        minute = stored(datetime.fromisoformat(str(about["taken_at_utc"]))) // MICROSECONDS_IN_A_MINUTE
        mine = (doses.c.person_id == each.question.person_id, doses.c.minute == minute)
        named = (doses.c.source == str(about["source"]), doses.c.ordinal == int(str(about["ordinal"])))
        stands = connection.execute(select(doses.c.amount).where(*mine, *named)).first()
        if stands is not None and stands.amount != about["amount"]:
            found.add(each.question_id)
    return found


def _named(each: StoredQuestion) -> tuple[str, str, str, int] | None:
    """The dose that a question is about, and whose it is."""
    about = _left_out(each)
    if not {"taken_at_utc", "ordinal"} <= set(about):
        return None
    return each.question.person_id, str(about["taken_at_utc"]), str(about["source"]), int(str(about["ordinal"]))
