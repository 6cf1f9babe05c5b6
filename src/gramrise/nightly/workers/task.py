"""What is handed to another process: plain values, and the function that works on them there."""

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly.ingest import means_of
from gramrise.nightly.one_person import rules_of
from gramrise.nightly.workers.persons import NightOfPersons, PersonDue, Tools, everybody, one_night
from gramrise.store import Store


@dataclass(frozen=True, slots=True)
class Task:
    """Some persons of one run. The worker needs the home folder at the same path, and the database."""

    home: Path
    now_utc: datetime
    run_id: int
    mark: str
    due: tuple[PersonDue, ...]


def work_on(task: Task) -> NightOfPersons:
    """Works on a task with a store of its own. What stops a whole pass is told, not raised: it travels as words."""
    total = NightOfPersons()
    try:
        with Store.open(task.home, create=False) as store:
            settled = {part.person_id for part in store.runs.parts(task.run_id)}  # by a worker that died after it
            rules, means = rules_of(task.home), means_of(task.home, cache(everybody))
            tools = Tools(store, task.home, task.now_utc, task.run_id, task.mark, rules, means)
            due = [each for each in task.due if each.person_id not in settled]
            total.persons += len(task.due) - len(due)
            for each in due:
                total.stopped_at = each.person_id
                one_night(tools, each, total)
    except CouldNotRun as trouble:
        total.stopped_by = (trouble.what, trouble.mend, trouble.code)
    return total
