"""What was not logged, judged and asked about, and the stock. Nothing here teaches the estimate."""

from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl

from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.domain.words import Outcome
from gramrise.nightly.current import current_findings
from gramrise.place import (
    PlacedCount,
    count_question,
    looks_treated,
    own_turns,
    place_count,
    place_settings,
    steep_questions,
)
from gramrise.store import Store
from gramrise.supplies import StockLine, stock_of, supplies_settings


def placed_counts(store: Store, person_id: str, now_utc: datetime, home: Path | None = None) -> list[PlacedCount]:
    """Every count of a person, laid on the recoveries that no logged glucose explains."""
    counts = store.supplies.counts(person_id)
    if not counts:
        return []
    found = current_findings(store, person_id, now_utc, home, only=("factors",))
    inputs, rules = store.inputs(person_id), place_settings(home)
    turns = own_turns(inputs, rules)
    placed = []
    for count in counts:
        # A source that was taken off the list since: the count stays stored, and lays nothing until it is stated again.
        with suppress(WrongUse):
            placed.append(place_count(count, inputs, found.factors, rules, turns))
    return placed


def ask_about_unlogged(store: Store, person: Person, now_utc: datetime, home: Path | None = None) -> list[PlacedCount]:
    """Asks about pieces that are gone unlogged, counts that contradict the log, and lows of a silent log that look treated.

    Returns the counts, laid.
    """
    placed = placed_counts(store, person.person_id, now_utc, home)
    asked: list[Question] = [each for one in placed if (each := count_question(one, person)) is not None]
    laid = [(each.count.from_utc, each.count.to_utc) for each in placed if each.laid is not None]
    asked += _steep(store, person, now_utc, home, laid)
    store.supplies.ask(person.person_id, asked, now_utc)
    return placed


def _steep(
    store: Store, person: Person, now_utc: datetime, home: Path | None, laid: list[tuple[datetime, datetime]]
) -> list[Question]:
    """Of the last weeks only, as nobody remembers longer; not where a count asks about the same hours."""
    rules = place_settings(home)
    lows = current_findings(store, person.person_id, now_utc, home, only=("lows",)).lows
    lately = lows.filter(pl.col("start_utc") > now_utc - timedelta(days=rules.steep_asked_days))
    if lately.filter(pl.col("outcome") == str(Outcome.NOTHING_LOGGED)).is_empty():
        return []
    inputs = store.inputs(person.person_id)
    turns = own_turns(inputs, rules)
    if len(turns.recoveries) < rules.steep_least_turns:
        return []
    found = looks_treated(inputs, lately, turns, rules)
    apart = [each for each in found if not any(begin <= each.start_utc < end for begin, end in laid)]
    return steep_questions(apart, person, rules)


def stock_lines(store: Store, person_id: str, now_utc: datetime, home: Path | None = None) -> list[StockLine]:
    """What is on hand of each source of a person."""
    inputs = store.inputs(person_id)
    gone: dict[str, list[tuple[datetime, int]]] = {}
    for each in placed_counts(store, person_id, now_utc, home):
        gone.setdefault(each.count.source, []).append((each.count.to_utc, each.pieces_untimed))
    return stock_of(
        inputs.person,
        inputs.doses,
        store.supplies.stock_counts(person_id),
        store.supplies.batches(person_id),
        gone,
        now_utc,
        supplies_settings(home),
    )
