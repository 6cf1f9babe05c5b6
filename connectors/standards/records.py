"""What a reader of an open standard hands over: a record ends as facts, held, passed over, or withdrawn."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from gramrise.connectors.standards.instants import Instant
from gramrise.domain.words import Range


class Kind(StrEnum):
    """What a fact is of, and the unit of its amount."""

    READING = "reading"  # sensor glucose, mg/dL
    FINGER = "finger"  # blood glucose, mg/dL
    GLUCOSE = "glucose"  # mg/dL, and the record does not say whether of a sensor or of blood
    DOSE = "dose"  # glucose swallowed, in `unit`
    INSULIN = "insulin"  # rapid insulin at once, U
    BASAL = "basal"  # rapid insulin given evenly over a time by a pump, U
    LONG_INSULIN = "long_insulin"  # long-acting insulin, U
    FOOD = "food"  # g of carbohydrate
    ACTIVITY = "activity"
    NOTE = "note"
    WEIGHT = "weight"  # kg


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that a record states.

    amount  in the unit of the kind; None: not stated, or a glucose value beyond a limit that is not stated
    unit    of a dose: g | piece | mL; counted_in and counted: in what and how many were stated, where grams were found
            by a strength
    on      the day of a weighing that has no time of day
    """

    kind: Kind
    at: Instant | None = None
    until_utc: datetime | None = None
    on: date | None = None
    amount: float | None = None
    unit: str = ""
    counted_in: str = ""
    counted: float | None = None
    range: Range = Range.IN
    text: str = ""


@dataclass(frozen=True, slots=True)
class Held:
    """Something of a record that could not be used: a code of TROUBLES, the element, and what stood there."""

    code: str
    column: str
    found: str = ""


@dataclass(slots=True)
class Record:
    """One record of a file, in the file's order.

    row          its line, or its number where several stand on one line
    whose        the person as the file names them; '' where it names nobody
    identity     of the record at its sender; '' where it has none
    updated_utc  when this version of it was made; None where that is not said
    passed       why nothing of it is used; '' where something is
    repeats      it is told again elsewhere in the file
    notes        remarks of its sender, in words
    by_name      (words, what it states) where its medication has no code that is known: a household may know the words
    withdrawn    its sender takes it back, and with it what an earlier version stated
    """

    row: int
    text: str = ""
    whose: str = ""
    identity: str = ""
    updated_utc: datetime | None = None
    facts: tuple[Fact, ...] = ()
    gaps: int = 0  # samples of a series that hold no value
    held: tuple[Held, ...] = ()
    passed: str = ""
    flags: tuple[str, ...] = field(default=())
    repeats: bool = False
    withdrawn: bool = False
    notes: tuple[str, ...] = ()
    by_name: tuple[str, Fact | Held] | None = None

    @property
    def offered(self) -> int:
        """How many entries the record holds: the samples of a series, else one."""
        return max(1, len(self.facts) + self.gaps)


class Hold(Exception):
    """The record cannot be used as it stands."""

    def __init__(self, code: str, column: str, found: object = "") -> None:
        super().__init__(code)
        self.held = Held(code, column, str(found)[:80])


class PassOver(Exception):
    """The record is understood and holds nothing that is kept; `why` names it."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class StandardRefused(Exception):
    """The file as a whole cannot be read: a code, what is wrong, and how to mend it. `waits`: a word mends it."""

    def __init__(self, code: str, what: str, mend: str, *, waits: bool = False) -> None:
        super().__init__(what)
        self.code, self.what, self.mend, self.waits = code, what, mend, waits
