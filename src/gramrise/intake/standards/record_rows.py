"""The facts of records as rows of one person: what is plausible is kept, the rest set aside with its reason."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import polars as pl

from gramrise.connectors.standards import TROUBLES, Fact, Held, Kind, Record
from gramrise.domain.batch import Quarantined
from gramrise.domain.frames import EVENTS, FINGERS, READINGS, WEIGHTS
from gramrise.domain.problems import Trouble
from gramrise.domain.words import EventKind, Range
from gramrise.intake.context import ReadContext
from gramrise.intake.problems import FileRefused
from gramrise.intake.rows import TakenRows, times_outside, weight_questions
from gramrise.intake.standards.dose_records import add_dose_records, dose_trouble

_EVENTS = {
    Kind.INSULIN: EventKind.INSULIN,
    Kind.FOOD: EventKind.FOOD,
    Kind.ACTIVITY: EventKind.ACTIVITY,
    Kind.NOTE: EventKind.NOTE,
}
_NOT_KEPT = {
    Kind.BASAL: "basal insulin given evenly by a pump",
    Kind.LONG_INSULIN: "long-acting insulin",
}


@dataclass(slots=True)
class RecordRows:
    """Gathers the rows of records of one person from one file."""

    file: str
    context: ReadContext
    taken: TakenRows = field(default_factory=TakenRows)
    passed: Counter[str] = field(default_factory=Counter)
    flags: Counter[str] = field(default_factory=Counter)
    _glucose: dict[Kind, dict[datetime, tuple[float, Range, int | None]]] = field(default_factory=dict)
    _events: list[tuple[object, ...]] = field(default_factory=list)
    _weights: dict[date, float] = field(default_factory=dict)
    _doses: list[tuple[Record, Fact]] = field(default_factory=list)
    _quarantine: list[Quarantined] = field(default_factory=list)

    def add(self, records: Iterable[Record]) -> None:
        """Takes in records. Each entry of each is kept, set aside, repeated or passed over, and counted as that."""
        takes: dict[Kind, Callable[[Fact], Held | None]] = {
            Kind.READING: self._add_glucose,
            Kind.FINGER: self._add_glucose,
            Kind.WEIGHT: self._add_weight,
            **dict.fromkeys(_EVENTS, self._add_event),
            **dict.fromkeys(_NOT_KEPT, self._pass_over),
        }
        for record in records:
            self.taken.rows_offered += record.offered
            self.flags.update(record.flags)
            for held in record.held:
                self._set_aside(record, held)
            if record.repeats:
                self.taken.rows_repeated += record.offered
            elif record.passed:
                self._count_passed(record.passed, record.offered)
            elif record.withdrawn:
                self._count_passed("a record taken back by its sender", 1)
            self._count_passed("a sample without a value", record.gaps if record.facts else 0)
            for fact in record.facts:
                trouble = self._time_trouble(fact)
                if trouble is None and fact.kind is Kind.DOSE:
                    trouble = dose_trouble(fact, self.context.settings)
                if trouble is None and fact.kind is Kind.DOSE:
                    self._doses.append((record, fact))
                elif trouble is None:
                    trouble = takes[fact.kind](fact)
                if trouble is not None:
                    self._set_aside(record, trouble)

    def finish(self) -> TakenRows:
        """The rows as frames."""
        taken, who = self.taken, self.context.person.person_id
        for kind, contract, add in (
            (Kind.READING, READINGS, taken.add_readings),
            (Kind.FINGER, FINGERS, taken.add_fingers),
        ):
            values = self._glucose.get(kind, {})
            rows = [(who, at, mg_dl, side.value, offset) for at, (mg_dl, side, offset) in sorted(values.items())]
            width = len(contract.schema)
            add(pl.DataFrame([row[:width] for row in rows], schema=contract.schema, orient="row"))
        add_dose_records(taken, self._doses, self.context, self._set_aside)
        events = pl.DataFrame([(who, *row) for row in self._events], schema=EVENTS.schema, orient="row")
        taken.add_events(events)
        weights = pl.DataFrame([(who, *one) for one in self._weights.items()], schema=WEIGHTS.schema, orient="row")
        taken.add_weights(weights)
        taken.questions += weight_questions(self._weights, self.context.person, self.context.settings)
        taken.quarantine = tuple(sorted(self._quarantine, key=lambda one: one.trouble.row or 0))
        return taken

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was passed over, by name, and how often."""
        return tuple(f"Passed over: {count} x {why}." for why, count in sorted(self.passed.items()))

    def _count_passed(self, why: str, count: int) -> None:
        if count:
            self.passed[why] += count
            self.taken.rows_passed_over += count

    def _set_aside(self, record: Record, held: Held) -> None:
        if len(self._quarantine) >= self.context.settings.most_troubles_named:
            outside = sum(one.trouble.code == "time_out_of_range" for one in self._quarantine)
            if 2 * outside > len(self._quarantine):
                raise times_outside(self.file, outside, None)
            raise FileRefused(
                "too_many_troubles",
                self.file,
                f"more than {self.context.settings.most_troubles_named} records cannot be read",
                "look at the first ones in the file",
            )
        what, mend = TROUBLES[held.code]
        trouble = Trouble(held.code, self.file, record.row, held.column, held.found, what, mend)
        self._quarantine.append(Quarantined(trouble, record.text[:500]))

    def _time_trouble(self, fact: Fact) -> Held | None:
        at = fact.at.utc if fact.at is not None else None
        if at is None and fact.on is not None:
            at = datetime(fact.on.year, fact.on.month, fact.on.day, tzinfo=UTC)
        assert at is not None  # a reader states no fact without a time
        if not self.context.earliest_utc <= at <= self.context.latest_utc:
            return Held("time_out_of_range", "effective", at.isoformat())
        return None

    def _add_glucose(self, fact: Fact) -> Held | None:
        settings = self.context.settings
        assert fact.at is not None
        mg_dl = fact.amount
        if mg_dl is None:  # beyond a limit that is not stated
            mg_dl = settings.below_range_mg_dl if fact.range is Range.BELOW else settings.above_range_mg_dl
        if not settings.least_glucose_mg_dl <= mg_dl <= settings.most_glucose_mg_dl:
            return Held("glucose_implausible", "value", f"{mg_dl:g} mg/dL")
        values = self._glucose.setdefault(fact.kind, {})
        known = values.get(fact.at.utc)
        if known is None:
            values[fact.at.utc] = (mg_dl, fact.range, fact.at.offset_minutes)
            return None
        if (round(known[0], 6), known[1]) != (round(mg_dl, 6), fact.range):
            return Held("two_values", "value", f"{mg_dl:g} mg/dL")
        self.taken.rows_repeated += 1
        return None

    def _add_event(self, fact: Fact) -> Held | None:
        assert fact.at is not None
        most = {
            Kind.INSULIN: self.context.settings.most_insulin_units,
            Kind.FOOD: self.context.settings.most_carbohydrate_g,
        }
        if fact.kind in most and fact.amount is not None:
            if fact.amount == 0:
                self._count_passed("an amount of zero", 1)
                return None
            if not 0 < fact.amount <= most[fact.kind]:
                return Held("amount_implausible", "value", f"{fact.amount:g}")
        row = (fact.at.utc, fact.until_utc, _EVENTS[fact.kind].value, fact.amount, fact.text)
        self._events.append(row)
        return None

    def _add_weight(self, fact: Fact) -> Held | None:
        settings = self.context.settings
        kg = fact.amount
        if kg is None or not settings.least_weight_kg <= kg <= settings.most_weight_kg:
            return Held("weight_implausible", "value", "" if kg is None else f"{kg:g} kg")
        zone = self.context.person.zone_now()
        day = fact.on if fact.at is None else fact.at.utc.astimezone(zone).date()
        assert day is not None  # one of the two
        if day in self._weights:
            self.taken.rows_repeated += 1
        self._weights[day] = kg
        return None

    def _pass_over(self, fact: Fact) -> Held | None:
        self._count_passed(_NOT_KEPT[fact.kind], 1)
        return None
