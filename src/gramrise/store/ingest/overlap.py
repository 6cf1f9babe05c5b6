"""What the readings of a file say of times that were told before: as many equal, as many otherwise."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

import polars as pl

from gramrise.domain.questions import Question
from gramrise.store.ingest.compare import Compared
from gramrise.store.input_tables import ROUNDING_MG_DL
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant
from gramrise.store.questions.kinds import WHOSE_FILE

# Civil clocks differ by whole quarters of an hour, by at most 26 hours (UTC-12 to UTC+14, tz data).
QUARTERS: Final = range(1, 26 * 4 + 1)
# Our choice: a trace read by another clock is the same trace nearly throughout; two traces never are.
SAME_TRACE_SHARE: Final = 0.9
SAME_MG_DL: Final = 0.5
LEAST_PAIRS: Final = 12  # an hour of readings every five minutes; our choice


@dataclass(frozen=True, slots=True)
class Between:
    """New readings between known ones: how many, how far apart in the middle, their usual level, and when.

    dense_n, dense_off_mg_dl, dense_apart_mg_dl   of those within one step of the known sensor: how many, how much
                                                  higher in the middle, how far apart in the middle
    """

    readings_n: int
    apart_mg_dl: float
    level_mg_dl: float
    first_utc: datetime
    last_utc: datetime
    dense_n: int
    dense_off_mg_dl: float
    dense_apart_mg_dl: float


@dataclass(slots=True)
class Overlap:
    """Readings of one file beside those other imports told for the same instants."""

    equal: int = 0
    others: dict[str, int] = field(default_factory=dict)  # readings that equal another person's, by that person
    records_known: int = 0  # records of open standards whose identity was known, each stating something then and now
    records_moved: int = 0  # ... of them those that now stand for other times altogether
    taken_out: int = 0  # rows that went because a newer version of their record does not state them
    _differing: list[pl.DataFrame] = field(default_factory=list)
    _between: list[pl.DataFrame] = field(default_factory=list)

    def add(self, compared: Compared, import_id: int) -> None:
        """Counts one batch in. What the same file told when it was read before is not held against it."""
        known = compared.before.select("at_utc", known="glucose_mg_dl", brought_by="import_id")
        told = compared.corrected.select("at_utc", told="glucose_mg_dl")
        both = told.join(known, on="at_utc").filter(pl.col("brought_by") != import_id)
        apart = (pl.col("told") - pl.col("known")).abs() > ROUNDING_MG_DL  # otherwise told to another decimal
        differing = both.filter(apart).select("at_utc", "told", "known")
        self.equal += compared.equal + both.height - differing.height
        self._differing.append(differing)

    def add_owners(self, asked: list[Question]) -> None:
        """Counts in of how many readings it was asked whether they are another person's."""
        for question in asked:
            if question.kind == WHOSE_FILE:
                other = str(question.about["other"])
                self.others[other] = self.others.get(other, 0) + int(str(question.about["equal"]))

    def add_between(self, between: pl.DataFrame) -> None:
        """Counts in new readings that stand between known ones, with what those say for their instants."""
        if between.height:
            self._between.append(between)

    def between(self) -> "Between | None":
        """How far they lie from the line between the known ones; None where there are none."""
        if not self._between:
            return None
        told = pl.concat(self._between)
        apart = told.select((pl.col("told") - pl.col("expected")).abs().median()).item()
        first, last, level = told.select(
            first=pl.col("at_utc").min(), last=pl.col("at_utc").max(), level=pl.col("expected").mean()
        ).row(0)
        off = told.filter("dense").select(off=pl.col("told") - pl.col("expected"))
        middle, distance = off.select(pl.col("off").median(), apart=pl.col("off").abs().median()).row(0)
        when = instant(first), instant(last)
        return Between(told.height, apart, level, *when, off.height, middle or 0.0, distance or 0.0)

    @property
    def differing(self) -> int:
        return sum(part.height for part in self._differing)

    def apart_mg_dl(self) -> float:
        """How far those told otherwise lie from the known ones, in the middle; 0 where there are none."""
        if not self._differing:
            return 0.0
        both = pl.concat(self._differing)
        return both.select((pl.col("told") - pl.col("known")).abs().median()).item() or 0.0

    def span(self) -> tuple[datetime, datetime]:
        """The first and the last instant told otherwise; there is at least one."""
        at = pl.concat(self._differing)["at_utc"]
        return instant(int(str(at.min()))), instant(int(str(at.max())))

    def minutes_later(self) -> int:
        """How much later than before the file tells the same trace, minutes; 0 where it is another trace."""
        if self.differing < LEAST_PAIRS:
            return 0
        both = pl.concat(self._differing)
        for quarters in QUARTERS:
            for minutes in (15 * quarters, -15 * quarters):
                before = both.select(pl.col("at_utc") + minutes * MICROSECONDS_IN_A_MINUTE, "known")
                pairs = both.select("at_utc", "told").join(before, on="at_utc")
                same = int(((pairs["told"] - pairs["known"]).abs() <= SAME_MG_DL).sum())
                if pairs.height >= LEAST_PAIRS and same >= SAME_TRACE_SHARE * pairs.height:
                    return minutes
        return 0
