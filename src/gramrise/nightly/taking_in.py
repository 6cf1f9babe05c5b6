"""One file into the store: read, asked about, put away whole or not at all. Inbox and command share it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from gramrise.config.settings import load
from gramrise.domain.batch import Batch, ImportSummary, Quarantined
from gramrise.domain.person import Person
from gramrise.store import Store


@dataclass
class FileTaken:
    """What one file brought. `quarantine` is empty for a file known by its bytes."""

    summaries: list[ImportSummary] = field(default_factory=list)
    quarantine: list[Quarantined] = field(default_factory=list)

    @property
    def questions_n(self) -> int:
        """Questions this file raised for the first time."""
        return sum(summary.questions for summary in self.summaries)

    @property
    def rows(self) -> int:
        return sum(summary.added + summary.corrected for summary in self.summaries)


def take_in_file(
    store: Store,
    home: Path,
    person: Person,
    file: Path,
    now_utc: datetime,
    *,
    layout_name: str | None = None,
    dry_run: bool = False,
    retry: bool = False,
    tell: Callable[[int], None] = lambda _rows: None,
) -> FileTaken:
    """Takes in one file in one transaction, in blocks, so that its size does not matter.

    tell    called with the number of rows read so far, for long files
    raises  a GramriseError naming the mend when the file waits or is refused; CouldNotRun when the store cannot write
    """
    from gramrise.intake import IntakeSettings, load_layouts, load_words, read_batches

    settings = load("intake", IntakeSettings, home)
    taken = FileTaken()
    with store.taking_in(now_utc, dry_run=dry_run, retry=retry) as put:
        read = read_batches(
            file,
            person,
            now_utc=now_utc,
            settings=settings,
            layouts=load_layouts(home),
            layout_name=layout_name,
            words=load_words(home),
        )
        for batch in _counted(read, tell):
            summary = put.batch(batch)
            taken.summaries.append(summary)
            if not summary.known_file:
                taken.quarantine += batch.quarantine
    return taken


def _counted(batches: Iterator[Batch], tell: Callable[[int], None]) -> Iterator[Batch]:
    rows = 0
    for batch in batches:
        yield batch
        rows += batch.rows_offered
        tell(rows)
