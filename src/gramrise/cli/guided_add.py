"""Adding a person at a terminal: what was not typed is asked for, one question after the other."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from gramrise.cli.parse import birth_date, body_weight, choice, one_line, one_of, time_zone
from gramrise.domain.problems import WrongUse
from gramrise.domain.units import GlucoseUnit

if TYPE_CHECKING:
    from gramrise.cli.context import Household

Ask = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Told:
    """What is known of a person to be added, as typed; '' where nothing was said."""

    born: str
    zone: str
    weight: str = ""
    unit: str = ""
    name: str = ""
    language: str = ""
    contacts: tuple[str, ...] = ()
    recipient: str = ""


def somebody_types() -> bool:
    """Whether a person sits at a terminal and can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def ask_for(told: Told, today: date, ask: Ask) -> Told:
    """Asks for what is missing, in the language that is asked for first; what cannot be meant is asked for again."""
    from gramrise.report import screen_words

    language = told.language or _until(
        ask, "Language / Sprache: en, de; Enter: en", lambda text: choice(text, ("", "en", "de"), "language")
    )
    say = screen_words(language or "en").say
    return Told(
        language=language,
        born=told.born or _until(ask, say("add.born"), lambda text: birth_date(text, today, language or "en")),
        zone=told.zone or _until(ask, say("add.zone"), time_zone),
        name=told.name or _until(ask, say("add.name"), one_line),
        weight=told.weight or _until(ask, say("add.weight"), _weight),
        unit=told.unit or _until(ask, say("add.unit"), lambda text: text and one_of(GlucoseUnit, text, "unit")),
        contacts=_several(ask, say("add.contact"), say("add.contact_more")),
        recipient=_until(ask, say("add.mail"), _address),
    )


def read_line(question: str) -> str:
    """One answer from the terminal. Raises Abort at the end of input."""
    try:
        return input(f"{question}: ").strip()
    except EOFError:
        raise typer.Abort from None


def name_recipient(house: "Household", person_id: str, address: str) -> str:
    """Puts who gets the weekly mail into the home's gramrise.toml, or says which line to add. What to tell."""
    line = f'{person_id} = [{{ address = "{address}", role = "parent" }}]'
    file = house.home / "gramrise.toml"
    if not _may_append(file):
        return f"For the weekly mail add under [nightly.recipients] in {file}: {line}"
    with file.open("a", encoding="utf-8") as settings:
        settings.write(f"\n[nightly.recipients]\n{line}\n")
    file.chmod(0o600)
    return f"The weekly mail goes to {address} ([nightly.recipients] in {file.name})."


def _may_append(file: Path) -> bool:
    """Whether a table at the end of the file changes nothing that stands in it."""
    return not file.is_file() or "recipients" not in file.read_text("utf-8-sig")


def _until(ask: Ask, question: str, check: Callable[[str], object]) -> str:
    while True:
        text = ask(question)
        try:
            check(text)
        except WrongUse as wrong:
            print(str(wrong))
            continue
        return text


def _several(ask: Ask, first: str, then: str) -> tuple[str, ...]:
    found: list[str] = []
    while text := _until(ask, then if found else first, one_line):
        found.append(text)
    return tuple(found)


def _weight(text: str) -> None:
    if text:
        body_weight(text)


def _address(text: str) -> None:
    if text and ("@" not in text or any(mark in text for mark in ' "\\')):
        raise WrongUse(f"'{text}' is no mail address", "write it as name@place")
