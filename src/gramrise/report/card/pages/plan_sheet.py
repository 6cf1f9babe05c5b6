"""The blank sheet of the care plan in a person's language: the clinic completes it, the family types it in once."""

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from importlib.resources import files
from typing import Final

from pydantic import BaseModel, ConfigDict

from gramrise.domain.person import Person
from gramrise.report.card.numbers.facts import local_day
from gramrise.report.card.pages.page import FRIDGE_A4, FRIDGE_LETTER
from gramrise.report.card.settings import SHIPPED_SETTINGS, CardSettings
from gramrise.report.style import FAMILY, PALETTE
from gramrise.report.typesetting import set_pdf
from gramrise.report.words import Words, words_for

GRAMS: Final = "g"


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to complete: a key of `on_card.sheet.*`, the unit printed behind the line, how many lines; 0: a box."""

    code: str
    unit: str = ""
    lines: int = 1


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the sheet: its fields, and sentences that are printed and not filled in."""

    code: str
    fields: tuple[Field, ...]
    printed: tuple[str, ...] = ()
    columns: int = 1


PARTS: Final = (
    Part(
        "amounts",
        (
            Field("standard_grams", GRAMS),
            Field("below_54_grams", GRAMS),
            Field("least_grams", GRAMS),
            Field("most_grams", GRAMS),
            Field("early", GRAMS),
            Field("automated_grams", GRAMS),
        ),
        columns=2,
    ),
    Part("second", (Field("look_again_minutes", "min"), Field("second_grams", GRAMS)), columns=2),
    Part("help", (Field("contacts", lines=2), Field("call_when"), Field("glucagon"), Field("glucagon_where"))),
    Part("vomiting", (Field("vomiting"),), ("on_card.vomiting",)),
    Part("sport", (Field("sport", lines=2), Field("illness"))),
    Part(
        "school",
        (
            Field("school_grams", GRAMS),
            Field("school_year"),
            Field("parent"),
            Field("staff"),
            Field("kit", lines=1),
            Field("school_glucagon"),
        ),
    ),
    Part(
        "approval",
        (
            Field("approved_by"),
            Field("approved_role"),
            Field("approved_on"),
            Field("valid_until"),
            Field("in_puberty", lines=0),
        ),
        ("on_card.sheet.validity",),
        columns=2,
    ),
)


class EntryFace(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    label: str
    unit: str
    lines: int


class PartFace(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    heading: str
    printed: tuple[str, ...]
    columns: int
    entries: tuple[EntryFace, ...]


class SheetFace(BaseModel):
    """The sheet in words."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    language: str
    title: str
    name: str
    born: str
    lead: str
    parts: tuple[PartFace, ...]
    footer: str


def sheet_face(person: Person, now_utc: datetime, rules: CardSettings = SHIPPED_SETTINGS) -> SheetFace:
    """All words of the blank sheet."""
    words = words_for(person.language, person.unit, "UTC")
    low, below = words.level(rules.safe_level_mg_dl), rules.rows(person.unit)[0][0]
    levels = {"level": low, "below": words.number(below, _decimals(words))}
    early = rules.early_row(person.unit)
    levels |= {
        "early_from": words.number(early[0], _decimals(words)),
        "early_to": words.number(early[1], _decimals(words)),
    }

    def say(code: str) -> str:
        return words.say(f"on_card.sheet.{code}", **levels)

    return SheetFace(
        language=words.language,
        title=say("title"),
        name=person.name or person.person_id,
        born=words.say("on_card.born", day=words.day(person.born, "medium")),
        lead=say("lead"),
        parts=tuple(
            PartFace(
                heading=say(f"part.{part.code}"),
                printed=tuple(words.say(code) for code in part.printed),
                columns=part.columns,
                entries=tuple(
                    EntryFace(label=say(f"field.{each.code}"), unit=each.unit, lines=each.lines) for each in part.fields
                ),
            )
            for part in PARTS
        ),
        footer=words.say(
            "on_card.sheet.footer", person=person.person_id, day=words.day(local_day(person, now_utc), "medium")
        ),
    )


def plan_sheet_pdf(person: Person, now_utc: datetime, rules: CardSettings = SHIPPED_SETTINGS) -> bytes:
    """The blank sheet as one page. Raises CouldNotRun where a letter of the name is in no font."""
    layout = FRIDGE_A4 if rules.fridge_paper == "a4" else FRIDGE_LETTER
    face = sheet_face(person, now_utc, rules)
    look = {**PALETTE, "family": FAMILY, **asdict(layout)}
    template = (files("gramrise.report.card.pages") / "templates" / "plan_sheet.typ").read_bytes()
    inputs = {"face": face.model_dump_json(), "look": json.dumps(look)}
    return set_pdf(template, inputs, int(now_utc.timestamp()))


def _decimals(words: Words) -> int:
    return 0 if words.unit == "mg/dL" else 1
