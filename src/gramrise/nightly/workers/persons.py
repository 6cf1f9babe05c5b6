"""The night of some persons: inbox, findings, counts, and a note of how it ended. One person's failure stops nobody.

Whatever a worker does is in the store before it answers, under the number of the run: a worker that is killed costs the
time to do its persons again, and nothing is done twice.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, GramriseError, refused_by_disk
from gramrise.nightly import inbox
from gramrise.nightly.counting import ask_about_unlogged
from gramrise.nightly.ingest import Means
from gramrise.nightly.logs import code_of, place_of
from gramrise.nightly.one_person import Rules, bring_up_to_date
from gramrise.store import DONE, FAILED, PersonRun, Store

# Troubles of the whole home: to go on with the next person would only meet them again.
STOPS_ALL: Final = {
    "database_damaged",
    "database_locked",
    "disk_full",
    "disk_read_only",
    "disk_trouble",
    "home_unreadable",
    "schema_damaged",
    "server_crowded",
    "server_gone",
    "server_refused",
    "server_rights",
}


@dataclass(frozen=True, slots=True)
class PersonDue:
    """A person whose night is to be taken in: which day it is for, and the files that lie still in their inbox."""

    person_id: str
    day: date
    files: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class Tools:
    """What the nights of one run are worked with."""

    store: Store
    home: Path
    now_utc: datetime
    run_id: int
    mark: str
    rules: Callable[[], Rules]
    means: Callable[[], Means]


@dataclass(slots=True)
class NightOfPersons:
    """What came of some persons' nights. `held` are sentences for the family; `failures` are for the log, as codes."""

    persons: int = 0
    failed: int = 0
    files: int = 0
    files_held: int = 0
    rows: int = 0
    held: list[str] = field(default_factory=list)
    failures: list[dict[str, Any]] = field(default_factory=list)
    stopped_by: tuple[str, str, str] | None = None  # what, mend, code of a trouble of the whole home
    stopped_at: str = ""  # whose turn it was then


def one_night(tools: Tools, due: PersonDue, done: NightOfPersons) -> None:
    """One person's night, noted in the run and counted into `done`. CouldNotRun for troubles of the whole home."""
    guarded(tools, done, due.person_id, due.day, lambda: _work(tools, done, due))


def _work(tools: Tools, done: NightOfPersons, due: PersonDue) -> None:
    store, home, now_utc = tools.store, tools.home, tools.now_utc
    person = store.person(due.person_id)
    taken = inbox.TakenIn()
    try:
        inbox.take_in_files(store, home, person, list(due.files), now_utc, tools.means, taken)
    finally:  # what landed before the disk was full has landed, and is told
        done.files += taken.files
        done.files_held += taken.held
        done.rows += taken.rows
        done.held += taken.sentences
    bring_up_to_date(store, person.person_id, now_utc, tools.rules(), as_shown=True)
    ask_about_unlogged(store, person, now_utc, home)
    done.persons += 1


def guarded(
    tools: Tools,
    done: NightOfPersons,
    person_id: str,
    day: date,
    work: Callable[[], tuple[int, datetime | None] | None],
) -> None:
    """Does a person's part and notes how it ended; a failure is told and the rest go on."""
    code = sentence = ""
    written, until = 0, None
    try:
        written, until = work() or (0, None)
    except GramriseError as trouble:
        if isinstance(trouble, CouldNotRun) and trouble.code in STOPS_ALL:
            raise
        code, sentence = trouble.code, str(trouble)
    except OSError as problem:
        refused = refused_by_disk(problem)
        if refused is not None:
            raise refused from problem
        code, sentence = "fault", place_of(problem)
    except Exception as fault:  # noqa: BLE001 - a fault of ours with one person's data must not cost the others their night
        code, sentence = "fault", place_of(fault)
    note_end(tools, done, PersonRun(person_id, day, DONE, tools.now_utc, code, sentence, written, until))


def note_end(tools: Tools, done: NightOfPersons, part: PersonRun) -> None:
    """Notes in the run how a person's part ended; a code makes it a failure."""
    state = FAILED if part.code else DONE
    told = (part.code, part.sentence, part.letters, part.data_until_utc)
    tools.store.runs.record(tools.run_id, PersonRun(part.person_id, part.for_on, state, part.finished_at_utc, *told))
    if part.code:
        done.failed += 1
        done.held.append(f"{part.person_id}: {part.sentence}")
        place = part.sentence if part.code == "fault" else ""
        done.failures.append({"person": code_of(tools.mark, part.person_id), "code": part.code, "place": place})


def everybody(store: Store) -> tuple[Person, ...]:
    """The persons of a home."""
    return tuple(store.persons())
