"""What every command shares: the household's home, its store, the person meant, and the clock."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from gramrise.domain.problems import GramriseError, WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords
    from gramrise.store import Store


def _account() -> str:
    """The account of the machine that runs the command, for the audit trail; '' where it has no name."""
    try:
        import pwd

        return pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, KeyError):
        return ""


class Household:
    """One home folder; the store is opened when a command first needs it."""

    def __init__(self, home: Path | None) -> None:
        from gramrise.config.home import home_folder

        self.home = home_folder(home)
        self._store: Store | None = None
        self._meant: Person | None = None

    @property
    def store(self) -> "Store":
        if self._store is None:
            from gramrise.config.settings import own_settings
            from gramrise.store import Actor, Store

            own_settings(self.home)  # a slip in gramrise.toml is told by every command, not only by those that read it

            self._store = Store.open(self.home)
            self._store.actor = Actor(_account(), "command")
        return self._store

    def note_look(self, what: str, who: "Person") -> None:
        """Notes for the audit trail that this command shows something of a person."""
        self.store.note_look(what, self.now_utc(), who.person_id)

    def now_utc(self) -> datetime:
        """The one place of the commands that reads the clock."""
        return datetime.now(UTC)

    def words(self, exit_status: int = 0) -> "ScreenWords":
        """Words in the language to speak. `exit_status` 3: the store cannot be opened for it, so in English."""
        from gramrise.report import screen_words

        return screen_words(self.language(opens=exit_status < 3))

    def language(self, *, opens: bool = True) -> str:
        """The language to speak: that of the person meant, else of the household's first; English for nobody.

        opens  the store may be opened for it, where no command did
        """
        if self._meant is None and (opens or self._store is not None):
            from gramrise.store import Store

            try:
                self._store = self._store or Store.open(self.home, create=False)
                return next((person.language for person in self._store.persons()), "en")
            except GramriseError:
                return "en"
        return self._meant.language if self._meant is not None else "en"

    def spoken(self, told: str) -> str:
        """A sentence of ours in the language to speak."""
        from gramrise.report import in_language

        return in_language(told, self.language())

    def say(self, told: str) -> None:
        """Prints a sentence of ours in the language to speak."""
        from gramrise.cli import tables

        tables.say(self.spoken(told))

    def warn(self, told: str) -> None:
        """Prints it beside what was asked for, on stderr."""
        from gramrise.cli import tables

        tables.warn(self.spoken(told))

    def person(self, named: str | None) -> "Person":
        """The person named, or the only one there is. Raises WrongUse listing who is known."""
        people = {person.person_id: person for person in self.store.persons()}
        if named in people or (named is None and len(people) == 1):
            self._meant = people[named or next(iter(people))]
            return self._meant
        if named is not None:
            known = ", ".join(people) or "nobody yet"
            raise WrongUse(f"no person '{named}'; known: {known}", "gramrise person add, or one of the names known")
        if not people:
            raise WrongUse("nobody is known yet", "gramrise person add ID --born DATE --zone ZONE --weight-kg KG")
        raise WrongUse(f"which person? known: {', '.join(people)}", "add --person ID")
