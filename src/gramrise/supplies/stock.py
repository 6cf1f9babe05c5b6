"""What is on hand of each source, how fast it goes, and the day to mix or buy. Nothing is ordered."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

import polars as pl

from gramrise.domain.counts import StockCount
from gramrise.domain.mixtures import MixedBatch
from gramrise.domain.person import Person
from gramrise.domain.sources import Source
from gramrise.supplies.mixing import solution_of
from gramrise.supplies.settings import SuppliesSettings

# Our choice: a log younger than a week does not say how fast a source goes.
LEAST_DAYS_JUDGED = 7


class StockState(StrEnum):
    """What is to be done about a source."""

    ENOUGH = "enough"
    ACT = "act"  # mix or buy by the day named
    PAST_ITS_DAYS = "past its days"  # a mixture to be poured away
    COUNT_AGAIN = "count again"  # more was taken than was there
    NOT_COUNTED = "not counted"


@dataclass(frozen=True, slots=True)
class StockLine:
    """One source. Amounts are in its unit; dates are local."""

    source: str
    unit: str  # piece | mL
    home_mixed: bool
    state: StockState
    on_hand: float | None
    per_day: float | None  # None: too little log to say
    lasts_until: date | None  # None: not known, or longer than a year
    use_by: date | None  # of a mixture
    act_by: date | None  # mix or buy


def stock_of(
    person: Person,
    doses: pl.DataFrame,
    counts: list[StockCount],
    batches: list[MixedBatch],
    gone_unlogged: dict[str, list[tuple[datetime, int]]],
    now_utc: datetime,
    rules: SuppliesSettings,
) -> list[StockLine]:
    """One line a source of today.

    doses          DOSES of the person
    gone_unlogged  by source: (instant, pieces) that counts of containers show gone and nobody logged
    """
    lines = []
    for source in person.sources_now():
        begun = _begun(source, counts, batches)
        used = _used(doses, source, now_utc)
        gone = [(at, float(n)) for at, n in gone_unlogged.get(source.name, []) if at <= now_utc]
        per_day = _per_day([*used, *gone], now_utc, rules)
        left = None
        if begun is not None:
            left = begun[1] - sum(amount for at, amount in (*used, *gone) if at >= begun[0])
        use_by = use_by_day(source.name, batches, person, rules)
        lines.append(_line(source, left, per_day, use_by, now_utc.astimezone(person.zone_now()).date(), rules))
    return lines


def unnamed_grams(doses: pl.DataFrame, now_utc: datetime, rules: SuppliesSettings) -> float:
    """Grams lately logged without a source: they are taken off no stock, so that what is on hand may be less."""
    since = now_utc - timedelta(days=rules.use_judged_days)
    mine = (pl.col("source") == "") & pl.col("taken_at_utc").is_between(since, now_utc)
    return float(doses.filter(mine)["grams"].sum())


def _begun(source: Source, counts: list[StockCount], batches: list[MixedBatch]) -> tuple[datetime, float] | None:
    """The latest known amount and its instant: a count, or a freshly mixed bottle."""
    known = [(each.counted_at_utc, each.amount) for each in counts if each.source == source.name]
    known += [
        (each.mixed_at_utc, solution_of(each.mixture).volume_ml) for each in batches if each.source == source.name
    ]
    return max(known, default=None)


def _used(doses: pl.DataFrame, source: Source, now_utc: datetime) -> list[tuple[datetime, float]]:
    mine = (
        (pl.col("source") == source.name)
        & (pl.col("amount_unit") == str(source.unit))
        & pl.col("amount").is_not_null()
        & (pl.col("taken_at_utc") <= now_utc)
    )
    return [(at, amount) for at, amount in doses.filter(mine).select("taken_at_utc", "amount").iter_rows()]


def _per_day(used: list[tuple[datetime, float]], now_utc: datetime, rules: SuppliesSettings) -> float | None:
    """Use a day over the last weeks, or since the first entry where the log is younger."""
    if not used:
        return None
    days = min(float(rules.use_judged_days), (now_utc - min(at for at, _ in used)) / timedelta(days=1))
    if days < LEAST_DAYS_JUDGED:
        return None
    since = now_utc - timedelta(days=days)
    return sum(amount for at, amount in used if at >= since) / days


def use_by_day(source: str, batches: list[MixedBatch], person: Person, rules: SuppliesSettings) -> date | None:
    """Last day of the latest bottle of a source, by its name; None for what was not mixed here."""
    mine = [each.mixed_at_utc for each in batches if each.source == source]
    if not mine:
        return None
    return max(mine).astimezone(person.zone_now()).date() + timedelta(days=rules.days_kept_cold)


def past_its_days(
    source: str, batches: list[MixedBatch], person: Person, at_utc: datetime, rules: SuppliesSettings
) -> date | None:
    """The last day of the bottle of a source that stood at an instant, where that day was over then; else None."""
    last = use_by_day(source, [each for each in batches if each.mixed_at_utc <= at_utc], person, rules)
    return last if last is not None and last < at_utc.astimezone(person.zone_now()).date() else None


def _line(
    source: Source, left: float | None, per_day: float | None, use_by: date | None, today: date, rules: SuppliesSettings
) -> StockLine:
    home_mixed = not source.sealed
    lasts = None
    if left is not None and left >= 0 and per_day and left / per_day <= 366:
        lasts = today + timedelta(days=int(left / per_day))
    ends = [day for day in (lasts, use_by) if day is not None]
    # A bottle is mixed on the day the old one ends; what is bought needs time to shop.
    ahead = 0 if home_mixed else rules.warn_days_ahead
    act_by = max(today, min(ends) - timedelta(days=ahead)) if ends else None
    near = act_by is not None and act_by <= today + timedelta(days=rules.warn_days_ahead)
    if left is None:
        state = StockState.NOT_COUNTED
    elif use_by is not None and use_by < today:
        state = StockState.PAST_ITS_DAYS
    elif left < 0:
        state = StockState.COUNT_AGAIN
    else:
        state = StockState.ACT if near else StockState.ENOUGH
    shown = None if left is None or left < 0 else left
    if lasts is not None and use_by is not None and lasts > use_by:
        lasts = None  # it is thrown away before
    return StockLine(source.name, str(source.unit), home_mixed, state, shown, per_day, lasts, use_by, act_by)
