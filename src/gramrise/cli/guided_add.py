"""Adding a person at a terminal: what was not typed is asked for, one question after the other."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Final

import typer

from gramrise.cli.parse import birth_date, body_weight, one_line, one_of, time_zone
from gramrise.cli.typed_lines import line_typed
from gramrise.domain.problems import WrongUse
from gramrise.domain.units import GlucoseUnit

if TYPE_CHECKING:
    from gramrise.cli.context import Household
    from gramrise.report import ScreenWords

Ask = Callable[[str], str]

# What may be typed for a language, in small letters; Enter alone is English.
_LANGUAGES: Final = {
    "": "en", "en": "en", "english": "en", "englisch": "en", "de": "de", "deutsch": "de", "german": "de",
}  # fmt: skip


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

    typed = told.language or _until(ask, "Language / Sprache: en, de; Enter: en", _language, "en")
    language = _language(typed)
    words = screen_words(language)

    def asked(code: str, check: Callable[[str], object]) -> str:
        return _until(ask, words.say(code), check, language)

    return Told(
        language=language,
        born=told.born or asked("add.born", lambda text: birth_date(text, today, language)),
        zone=told.zone or asked("add.zone", time_zone),
        name=told.name or asked("add.name", one_line),
        weight=told.weight or asked("add.weight", _weight),
        unit=told.unit or asked("add.unit", lambda text: text and one_of(GlucoseUnit, text, "unit")),
        contacts=_contacts(asked, words),
        recipient=asked("add.mail", _address),
    )


def _language(text: str) -> str:
    """'en' or 'de', by its letters or its name. Raises WrongUse."""
    found = _LANGUAGES.get(text.casefold())
    if found is None:
        raise WrongUse(f"'{text}' is no language", "one of: en, de")
    return found


def read_line(question: str) -> str:
    """One answer from the terminal. Raises Abort at the end of input."""
    try:
        return line_typed(f"{question}: ")
    except EOFError:
        raise typer.Abort from None


def name_recipient(house: "Household", person_id: str, address: str, words: "ScreenWords") -> str:
    """Puts who gets the weekly mail into the home's gramrise.toml, or says which line to add. What to tell."""
    line = f'{person_id} = [{{ address = "{address}", role = "parent" }}]'
    file = house.home / "gramrise.toml"
    if not _may_append(file):
        return words.say("add.mail_line", file=str(file), line=line)
    with file.open("a", encoding="utf-8") as settings:
        settings.write(f"\n[nightly.recipients]\n{line}\n")
    file.chmod(0o600)
    return words.say("add.mail_goes", address=address, file=file.name)


def _may_append(file: Path) -> bool:
    """Whether a table at the end of the file changes nothing that stands in it."""
    return not file.is_file() or "recipients" not in file.read_text("utf-8-sig")


def _until(ask: Ask, question: str, check: Callable[[str], object], language: str) -> str:
    """What was typed, once it can be meant; a refusal is told in the language of the questions."""
    from gramrise.report import in_language

    while True:
        text = ask(question)
        try:
            check(text)
        except WrongUse as wrong:
            print(in_language(str(wrong), language))
            continue
        return text


def _contacts(asked: Callable[[str, Callable[[str], object]], str], words: "ScreenWords") -> tuple[str, ...]:
    """Whom to call, one after the other. One without a number is kept, and told of at once."""
    from gramrise.domain.care_plan import has_number

    found: list[str] = []
    while text := asked("add.contact_more" if found else "add.contact", one_line):
        found.append(text)
        if not has_number(text):
            print(words.say("add.contact_no_number", contact=text))
    return tuple(found)


def _weight(text: str) -> None:
    if text:
        body_weight(text)


def _address(text: str) -> None:
    if text and ("@" not in text or any(mark in text for mark in ' "\\')):
        raise WrongUse(f"'{text}' is no mail address", "write it as name@place")
