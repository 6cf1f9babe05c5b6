"""The good rows of a table or note, gathered kind by kind."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from gramrise.domain.batch import Quarantined, Question
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS, WEIGHTS, FrameContract


@dataclass(slots=True)
class TakenRows:
    """What one table (or one block of a large one) gave. Rows that repeat earlier ones are counted, not kept."""

    readings: pl.DataFrame = field(default_factory=READINGS.empty)
    fingers: pl.DataFrame = field(default_factory=FINGERS.empty)
    doses: pl.DataFrame = field(default_factory=DOSES.empty)
    events: pl.DataFrame = field(default_factory=EVENTS.empty)
    weights: pl.DataFrame = field(default_factory=WEIGHTS.empty)
    quarantine: tuple[Quarantined, ...] = ()
    questions: list[Question] = field(default_factory=list)
    rows_offered: int = 0
    rows_repeated: int = 0
    rows_passed_over: int = 0
    unstated_sources: list[str] = field(default_factory=list)  # as of DosesOfEntries
    last_utc: int | None = None
    dosed_rows: set[int] = field(default_factory=set)  # rows of a table whose amount of glucose given is taken

    def add_readings(self, readings: pl.DataFrame) -> None:
        """Adds READINGS, one an instant."""
        self.readings = self._one_an_instant(READINGS, self.readings, readings)

    def add_fingers(self, fingers: pl.DataFrame) -> None:
        """Adds FINGERS, one an instant."""
        self.fingers = self._one_an_instant(FINGERS, self.fingers, fingers)

    def _one_an_instant(self, contract: FrameContract, before: pl.DataFrame, fresh: pl.DataFrame) -> pl.DataFrame:
        """Of two columns of one kind, the value of the first stands where both have one."""
        if before.height == 0:
            return _in_order(contract, fresh)
        both = pl.concat([before, fresh])
        kept = contract.check(both.unique("at_utc", keep="first", maintain_order=True))
        self.rows_repeated += both.height - kept.height
        return kept

    def add_doses(self, doses: pl.DataFrame, questions: Sequence[Question], unstated_sources: Sequence[str]) -> None:
        """Adds DOSES, the questions about them, and what those of unknown strength count."""
        self.doses = DOSES.check(pl.concat([self.doses, doses]))
        self.questions += questions
        self.unstated_sources += unstated_sources

    def add_events(self, events: pl.DataFrame) -> None:
        """Adds EVENTS, equal ones once."""
        fresh = events.unique(maintain_order=True)
        self.rows_repeated += events.height - fresh.height
        self.events = pl.concat([self.events, fresh])

    def add_weights(self, weights: pl.DataFrame) -> None:
        """Adds WEIGHTS; of several on one day the last stands."""
        both = pl.concat([self.weights, weights])
        kept = both.unique("on", keep="last", maintain_order=True)
        self.rows_repeated += both.height - kept.height
        self.weights = WEIGHTS.check(kept)


def _in_order(contract: FrameContract, frame: pl.DataFrame) -> pl.DataFrame:
    """The frame as its contract wants it; rows of one person that stand in order of time need no sorting."""
    contract.check(frame.clear())
    steps = frame["at_utc"].to_physical().diff().drop_nulls()
    return frame if (steps > 0).all() else contract.check(frame)
