"""What was not logged, judged and asked about, and the stock. Nothing here teaches the estimate."""

from contextlib import suppress
from datetime import date, datetime, timedelta
from pathlib import Path

import polars as pl

from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.domain.words import Outcome
from gramrise.nightly.current import current_findings
from gramrise.place import (
    PlacedCount,
    PlaceSettings,
    Repeated,
    WeakGlucose,
    count_question,
    covered_days,
    looks_treated,
    own_turns,
    place_count,
    place_settings,
    repeating_hours,
    steep_questions,
    weak_glucose,
)
from gramrise.report import SuppliesWeek
from gramrise.store import Store
from gramrise.supplies import StockLine, stock_of, supplies_settings, unnamed_grams


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
    """Asks about pieces gone unlogged, counts that contradict the log, and lows of a silent log that look treated.

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
    placed = placed_counts(store, person_id, now_utc, home)
    return _stock(store, store.inputs(person_id), placed, now_utc, home)


def weak_sources(store: Store, person_id: str, now_utc: datetime, home: Path | None = None) -> list[WeakGlucose]:
    """Sources and bottles of a person whose glucose works clearly less than the person's other glucose."""
    found = current_findings(store, person_id, now_utc, home, only=("pairings",))
    judged = weak_glucose(
        found.pairings, store.person(person_id), store.supplies.batches(person_id), place_settings(home)
    )
    return [each for each in judged if each.weak]


def supplies_of_week(
    store: Store, inputs: Inputs, found: Findings, week_end: date, now_utc: datetime, home: Path | None = None
) -> SuppliesWeek:
    """What the weekly report tells of supplies: stock now, counts, weak glucose, and what repeats up to `week_end`."""
    person_id, rules = inputs.person.person_id, place_settings(home)
    placed, batches = placed_counts(store, person_id, now_utc, home), store.supplies.batches(person_id)
    return SuppliesWeek(
        stock=_stock(store, inputs, placed, now_utc, home),
        batches=batches,
        placed=placed,
        weak=weak_glucose(found.pairings, inputs.person, batches, rules),
        repeated=_repeated(inputs, found, week_end, rules),
        unnamed_grams=unnamed_grams(inputs.doses, now_utc, supplies_settings(home)),
        unnamed_days=supplies_settings(home).use_judged_days,
    )


def _repeated(inputs: Inputs, found: Findings, week_end: date, rules: PlaceSettings) -> Repeated:
    """The season up to the last whole day of the week."""
    zone = inputs.person.zone.on_or_first(week_end) or inputs.person.zone_now()
    grams = inputs.doses.filter(pl.col("grams").is_not_null()).select("taken_at_utc", "grams")
    return repeating_hours(
        found.lows["start_utc"].to_list(),
        list(grams.iter_rows()),
        covered_days(inputs.readings, zone, rules),
        week_end - timedelta(days=1),
        zone,
        rules,
    )


def _stock(
    store: Store, inputs: Inputs, placed: list[PlacedCount], now_utc: datetime, home: Path | None
) -> list[StockLine]:
    person_id = inputs.person.person_id
    gone: dict[str, list[tuple[datetime, int]]] = {}
    for each in placed:
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
