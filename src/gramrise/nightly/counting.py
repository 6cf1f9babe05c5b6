"""Container counts laid on the trace and asked about, and the stock. Nothing here teaches the estimate."""

from contextlib import suppress
from datetime import datetime
from pathlib import Path

from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.nightly.current import current_findings
from gramrise.place import PlacedCount, count_question, own_turns, place_count, place_settings
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


def ask_about_counts(store: Store, person: Person, placed: list[PlacedCount], now_utc: datetime) -> None:
    """Asks about pieces that are gone unlogged, and about counts that contradict the log."""
    asked: list[Question] = [each for one in placed if (each := count_question(one, person)) is not None]
    store.supplies.ask(person.person_id, asked, now_utc)


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
