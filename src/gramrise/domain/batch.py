"""What one file gave: good rows as frames, bad rows as quarantine, open points as questions."""

from dataclasses import dataclass, field

import polars as pl

from gramrise.domain.counts import NotedCount
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS, SOURCE_RECORDS, WEIGHTS
from gramrise.domain.problems import Trouble
from gramrise.domain.questions import Question

__all__ = ["Batch", "ImportSummary", "Quarantined", "Question"]


@dataclass(frozen=True, slots=True)
class Quarantined:
    """A row that could not be read: its text as the file had it, and the trouble that names place and mend."""

    trouble: Trouble
    text: str


@dataclass(frozen=True, slots=True)
class Batch:
    """One file read for one person. Frames hold only good rows; counts say what was offered."""

    person_id: str
    file: str  # name only, never a path
    content_hash: str  # sha-256 of the bytes
    layout: str
    rows_offered: int
    readings: pl.DataFrame = field(default_factory=READINGS.empty)
    fingers: pl.DataFrame = field(default_factory=FINGERS.empty)
    doses: pl.DataFrame = field(default_factory=DOSES.empty)
    events: pl.DataFrame = field(default_factory=EVENTS.empty)
    weights: pl.DataFrame = field(default_factory=WEIGHTS.empty)
    source_records: pl.DataFrame = field(default_factory=SOURCE_RECORDS.empty)
    quarantine: tuple[Quarantined, ...] = ()
    questions: tuple[Question, ...] = ()
    remarks: tuple[str, ...] = ()  # sentences about the file as a whole
    counts: tuple[NotedCount, ...] = ()  # of containers, in a note; beside the rows
    # Rows of the file that state the same thing twice, or carry nothing we keep (empty, totals): counted, never lost.
    rows_repeated: int = 0
    rows_passed_over: int = 0


@dataclass(frozen=True, slots=True)
class ImportSummary:
    """What the store made of one batch. Rows are counted over all tables of the batch."""

    file: str
    layout: str
    added: int
    corrected: int
    already_known: int
    conflicts: int
    quarantined: int
    questions: int
    known_file: bool = False  # the same bytes were imported before: nothing was done
    dry_run: bool = False
    set_aside_then: int = 0  # of a known file: rows that were set aside when it was read, and are still
    import_id: int | None = None  # its new entry in the ledger; None where it has one already
    passed_over: int = 0  # rows without a value, totals, repeated headers

    def __add__(self, other: "ImportSummary") -> "ImportSummary":
        """The same file's next part counted in. Known only where every part is."""
        return ImportSummary(
            self.file,
            self.layout,
            self.added + other.added,
            self.corrected + other.corrected,
            self.already_known + other.already_known,
            self.conflicts + other.conflicts,
            self.quarantined + other.quarantined,
            self.questions + other.questions,
            self.known_file and other.known_file,
            self.dry_run,
            self.set_aside_then + other.set_aside_then,
            passed_over=self.passed_over + other.passed_over,
        )
