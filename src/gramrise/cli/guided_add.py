"""Adding a person at a terminal: what was not typed is asked for, one question after the other."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Final

import typer

from gramrise.cli.parse import birth_date, body_weight, choice, one_line, one_of, time_zone, weight_number
from gramrise.domain.problems import WrongUse
from gramrise.domain.units import GlucoseUnit

if TYPE_CHECKING:
    from gramrise.cli.context import Household

Ask = Callable[[str], str]
NEXT: Final = "Enter leaves it for later"


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


def ask_for(born: str | None, zone: str | None, name: str, weight: str, today: date, ask: Ask) -> Told:
    """Asks for what is missing; an answer that cannot be meant is asked for again."""
    return Told(
        born=born or _until(ask, "Birth date, YYYY-MM-DD", lambda text: birth_date(text, today)),
        zone=zone or _until(ask, "Time zone, as Europe/Berlin or America/Chicago", time_zone),
        name=name or _until(ask, f"Name as printed on reports and cards; {NEXT}", one_line),
        weight=weight or _until(ask, f"Body weight today, kg; {NEXT}", _weight),
        unit=_until(ask, "mg/dL or mmol/L; Enter for mg/dL", lambda text: text and one_of(GlucoseUnit, text, "unit")),
        language=_until(
            ask, "Language, en or de; Enter for en", lambda text: choice(text, ("", "en", "de"), "language")
        ),
        contacts=_several(ask, f"Whom to call in an emergency, name and number; {NEXT}"),
        recipient=_until(ask, f"Mail address for the weekly report; {NEXT}", _address),
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


def _several(ask: Ask, question: str) -> tuple[str, ...]:
    found: list[str] = []
    while text := _until(ask, question if not found else f"And whom else; {NEXT}", one_line):
        found.append(text)
    return tuple(found)


def _weight(text: str) -> None:
    if text:
        body_weight(weight_number(text.lower().removesuffix("kg").strip(), text))


def _language(text: str) -> None:
    choice(text, ("", "en", "de"), "language")


def _address(text: str) -> None:
    if text and ("@" not in text or any(mark in text for mark in ' "\\')):
        raise WrongUse(f"'{text}' is no mail address", "write it as name@place")
