"""What a layout file may say: where a table's columns stand, what they mean, and in which units and clock."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

Unit = Literal["mg/dL", "mmol/L", "in header"]
WeightUnit = Literal["kg", "lb", "in header"]
IN_HEADER = "in header"
DRAFT_NAME = "recognised"  # the name a draft carries; kept in a home, it is called as its file is


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class RecognisedBy(_Frozen):
    """Proof that a table is of this layout: all that is named must be there. Case, accents, bracketed units aside."""

    header: tuple[str, ...] = ()  # header cells that must stand in one line
    also: tuple[str, ...] = ()  # header cells that may stand beside them
    only_these: bool = True  # and no others
    preamble: tuple[str, ...] = ()  # texts that must stand above the header
    entry_lines: bool = False  # a text note: no header, a time at the start of each line


class FileShape(_Frozen):
    """How the bytes and lines are cut. `auto` is resolved from the bytes themselves, never from likelihood.

    Encoding and delimiter are used where the layout is named (--layout): they are needed before a header can be read.
    """

    encoding: str = "auto"
    delimiter: Literal["auto", ",", ";", "\t", "|", " "] = "auto"
    decimal: Literal["auto", ".", ","] = "auto"
    thousands: Literal["", ".", ",", "'", " "] = ""
    total_words: tuple[str, ...] = ()  # a row whose first filled cell begins so is a sum, not an entry


class Clock(_Frozen):
    """Where a row's time stands. Without a written offset it is local time in `zone`."""

    columns: Annotated[
        tuple[str, ...], Field(min_length=1, max_length=3)
    ]  # one, or date and time of day apart, and am or pm
    # ymd | dmy | mdy | iso (year first, strictly) | epoch s | epoch ms | sheet serial | a strftime pattern: the first
    # that fits a row; auto: the order that the table itself proves
    formats: Annotated[tuple[str, ...], Field(min_length=1)] = ("auto",)
    zone: str = "person"  # person | UTC | a name of the tz data: Europe/Berlin
    offset_column: str = ""  # +hh:mm or a number east of UTC, where it stands apart
    offset_unit: Literal["hours", "minutes", "seconds"] = "hours"  # what a plain number there counts
    day_carried: bool = False  # an empty date cell means the date above it
    # am/pm words of other languages are in header_words.toml and need no entry here


class When(_Frozen):
    """Only rows whose `column` holds one of `words` (or anything at all, where no word is given)."""

    column: str
    words: tuple[str, ...] = ()


class _Part(_Frozen):
    when: When | None = None
    note: str = ""  # column with free text kept beside the row


class Glucose(_Part):
    """Glucose values: a sensor's readings, or finger-sticks."""

    kind: Literal["readings", "fingers"]
    value: str
    unit: Unit = "in header"
    unit_column: str = ""  # where each row says its unit itself
    below: tuple[str, ...] = ()  # what stands for 'below the sensor's range', beside the words of header_words.toml
    above: tuple[str, ...] = ()
    floor: float | None = None  # this value, in `unit`, and anything lower means 'below range'
    ceiling: float | None = None
    no_value: tuple[str, ...] = ()  # what stands for 'no reading': passed over


class GlucoseGiven(_Part):
    """Glucose swallowed on purpose: grams, or an amount of a source, or both as people write them in `text`."""

    kind: Literal["doses"]
    grams: str = ""
    amount: str = ""
    source: str = ""
    unit_column: str = ""  # the column that says what the number beside it counts: pieces, mL or g
    amount_unit: Literal["", "piece", "ml", "gram"] = ""  # what every bare number counts, where the header says it
    form: str = ""
    text: str = ""  # one column in which amount and source stand together: "3 pieces"
    noticed: str = ""  # column that says who noticed that it was needed: the child, the sensor, an adult
    source_is: str = ""  # the person's source all amounts are of, where no column says it
    remarks_too: bool = False  # the text also holds other remarks: a text without an amount becomes a note

    @model_validator(mode="after")
    def _one_way(self) -> "GlucoseGiven":
        if sum(bool(column) for column in (self.grams, self.amount, self.text)) != 1:
            raise ValueError("name exactly one of grams, amount and text")
        return self


class Insulin(_Part):
    kind: Literal["insulin"]
    units: str


class Food(_Part):
    kind: Literal["food"]
    grams: str = ""  # of carbohydrate; empty: food in words alone, in `note`
    grams_per_portion: float = 1.0  # where portions are written instead of grams
    amount_known: bool = True  # False: the column's unit is unknown, so food without grams


class Weight(_Part):
    kind: Literal["weights"]
    value: str
    unit: WeightUnit = "in header"


class Happening(_Part):
    """Another event that was logged: the row itself states it."""

    kind: Literal["activity", "illness", "glucagon", "vomited", "sensor_start", "note"]
    until: str = ""  # column with its end, same clock
    text: str = ""


Part = Annotated[
    Glucose | GlucoseGiven | Insulin | Food | Weight | Happening,
    Field(discriminator="kind"),
]


class Layout(_Frozen):
    """One table layout. `brings` may name several parts: a row can hold a reading and an insulin dose."""

    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$")]
    about: str
    recognised_by: RecognisedBy = RecognisedBy()
    file: FileShape = FileShape()
    person_column: str = ""  # names whose row it is; a table with more than one name waits
    clock: Clock | None = None  # none: a text note, whose lines begin with the time
    brings: tuple[Part, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> "Layout":
        if not self.recognised_by.entry_lines and (self.clock is None or not self.brings):
            raise ValueError("a table layout needs [clock] and at least one [[brings]]")
        return self
