"""Wall-clock times to instants: the hour that happens twice is placed by order and spacing, never by guess.

Rules and cases: our notes on time, groups local and sequence (copied into the tests).
"""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.frames import UTC
from gramrise.intake.settings import IntakeSettings

MINUTE_US = 60_000_000


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a file's wall times lie. `certain` is False where an hour happens twice and nothing tells which it was."""

    at_utc: pl.Series  # datetime[us, UTC]; null: no such local time (the clock jumped over it)
    certain: pl.Series  # bool


def place(
    local: pl.Series,
    zone: ZoneInfo,
    settings: IntakeSettings,
    before_utc: int | None = None,
    known_utc: pl.Series | None = None,
) -> Placed:
    """Instants of naive wall times in the order of their file, which may run forwards or backwards.

    local       datetime[us] without zone, file order; null stays null
    known_utc   datetime[us, UTC]: rows whose instant is written; they stand as they are and place their neighbours
    before_utc  epoch microseconds of the last instant of the part of the file that came before, if any
    """
    first, second = both_passes(local.cast(pl.Datetime("us")), zone)
    certain = pl.select(certain=pl.repeat(True, local.len(), dtype=pl.Boolean)).to_series()
    if second is first and known_utc is None:
        return Placed(first.alias("at_utc"), certain)
    frame = pl.DataFrame({"first": first, "second": second})
    if known_utc is not None:
        frame = frame.with_columns(
            first=known_utc.fill_null(frame["first"]), second=known_utc.fill_null(frame["second"])
        )
    doubtful = frame.select((pl.col("first") != pl.col("second")).fill_null(False).alias("d")).to_series()
    if not doubtful.any():
        return Placed(frame["first"].alias("at_utc"), certain)
    chosen, sure = _Repeated(frame, doubtful, settings, before_utc).place()
    at = doubtful.arg_true()
    placed = frame["first"].to_physical().scatter(at, chosen).cast(UTC)
    return Placed(placed.alias("at_utc"), certain.scatter(at, sure).alias("certain"))


def both_passes(local: pl.Series, zone: ZoneInfo) -> tuple[pl.Series, pl.Series]:
    """The earlier and the later instant of each wall time; they differ in a repeated hour, both null in a skipped one.

    local    datetime[us] without zone; null stays null
    returns  two datetime[us, UTC] columns, the same object twice where no wall time is repeated or skipped
    """
    once = _instants(local, zone, "null")
    if once.null_count() == local.null_count():
        return once, once
    odd = (once.is_null() & local.is_not_null()).arg_true()
    walls = local.gather(odd)
    earlier, later = _instants(walls, zone, "earliest"), _instants(walls, zone, "latest")
    return once.clone().scatter(odd, earlier), once.scatter(odd, later)  # scatter changes its own series


def _instants(local: pl.Series, zone: ZoneInfo, repeated: Literal["earliest", "latest", "null"]) -> pl.Series:
    placed = local.dt.replace_time_zone(zone.key, ambiguous=repeated, non_existent="null")
    return placed.dt.convert_time_zone("UTC").cast(UTC)


class _Repeated:
    """The rows that lie in a repeated hour, each run of them placed between its neighbours."""

    def __init__(
        self, frame: pl.DataFrame, doubtful: pl.Series, settings: IntakeSettings, before_utc: int | None
    ) -> None:
        self.first = frame["first"].to_physical()
        self.second = frame["second"].to_physical()
        known = frame["first"].to_physical().to_frame("t").with_columns(d=doubtful).filter(~pl.col("d"))["t"]
        known = known.drop_nulls()
        self.backwards = known.len() > 1 and known[-1] < known[0]
        steps = known.diff().drop_nulls().abs()
        tolerance = int(settings.clock_tolerance_minutes * MINUTE_US)
        against = known.diff().drop_nulls() * (-1 if self.backwards else 1)
        self.in_order = not (against < -tolerance).any()
        usual = steps.filter(steps > 0).median()
        step = float(usual) if isinstance(usual, (int, float)) else 0.0  # microseconds
        regular = 0 < step <= settings.most_regular_step_minutes * MINUTE_US
        self.reach = int(step * settings.follows_within_steps) if regular else 0
        self.tolerance = tolerance
        self.before_utc = before_utc
        self.rows: list[int] = doubtful.arg_true().to_list()

    def place(self) -> tuple[list[int], list[bool]]:
        """For each doubtful row, in file order: its instant and whether it is certain."""
        chosen: dict[int, tuple[int, bool]] = {}
        for run in self._runs():
            chosen.update(self._place_run(run))
        return [chosen[row][0] for row in self.rows], [chosen[row][1] for row in self.rows]

    def _runs(self) -> list[list[int]]:
        """Neighbouring doubtful rows of the same change of clock, in order of time."""
        runs: list[list[int]] = []
        for row in self.rows:
            together = (
                runs and row == runs[-1][-1] + 1 and abs(self.first[row] - self.first[runs[-1][-1]]) < 180 * MINUTE_US
            )
            if together:
                runs[-1].append(row)
            else:
                runs.append([row])
        return [run[::-1] for run in runs] if self.backwards else runs

    def _place_run(self, run: list[int]) -> dict[int, tuple[int, bool]]:
        previous = self._neighbour(run[0], -1)
        following = self._neighbour(run[-1], +1)
        second_pass = self._step_back(run)
        if not self.in_order:
            return {row: (self.first[row], False) for row in run}
        if second_pass is not None:
            placed = {row: self.first[row] if at < second_pass else self.second[row] for at, row in enumerate(run)}
            sure = len(set(placed.values())) == len(run)
            return {row: (instant, sure) for row, instant in placed.items()}
        return self._by_spacing(run, previous, following)

    def _step_back(self, run: list[int]) -> int | None:
        """Where in the run the wall clock went back by more than disorder explains: there the second pass begins."""
        for at in range(1, len(run)):
            if self.first[run[at]] < self.first[run[at - 1]] - self.tolerance:
                return at
        return None

    def _by_spacing(self, run: list[int], previous: int | None, following: int | None) -> dict[int, tuple[int, bool]]:
        """One pass only: rows that follow what came before are of the first, rows that lead on are of the second."""
        firsts = self._reached([self.first[row] for row in run], previous)
        seconds = self._reached([self.second[row] for row in run][::-1], following)
        lasts = len(run) - seconds
        repeated = len({self.first[row] for row in run}) < len(run)
        placed = {}
        for at, row in enumerate(run):
            in_first, in_second = at < firsts, at >= lasts
            sure = in_first != in_second and not repeated
            placed[row] = (self.second[row] if in_second and not in_first else self.first[row], sure)
        return placed

    def _reached(self, instants: list[int], start: int | None) -> int:
        """How many of the instants, from the front, follow one another within reach from `start`."""
        reached = 0
        at = start
        for instant in instants:
            if at is None or abs(instant - at) > self.reach:
                break
            at, reached = instant, reached + 1
        return reached

    def _neighbour(self, row: int, way: int) -> int | None:
        at = row + (-way if self.backwards else way)
        if not 0 <= at < self.first.len():
            return self.before_utc if at < 0 else None
        value = self.first[at]
        return int(value) if value is not None else None
