"""What the screens say, in a person's language. Light: a command that only logs glucose loads no library for it."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from gramrise.report.word_files import SCREENS, NoSuchWords, language_of, words_of

_COMMA: Final = frozenset({"de"})  # languages that write 0,5


@dataclass(frozen=True, slots=True)
class ScreenWords:
    """One language of the screens."""

    language: str

    def say(self, code: str, /, **values: str | int) -> str:
        """The sentence of a code with its values put in; `count` chooses between one and other.

        raises NoSuchWords, naming the code, for an unknown code or a missing value
        """
        found = words_of(SCREENS, self.language).get(f"screen.{code}")
        if isinstance(found, dict):
            found = found["one" if values.get("count") == 1 else "other"]
        if found is None:
            raise NoSuchWords(code)
        try:
            return str(found).format_map(values)
        except KeyError as missing:
            raise NoSuchWords(f"{code} needs {missing}") from missing

    def time(self, local: datetime) -> str:
        """A time of the person's own clock, in the one form of all screens: 'Mon 09 Mar 2026 02:10'."""
        weekday = self.say("weekdays").split()[local.weekday()]
        return self.say("time", weekday=weekday, day=self.day(local), clock=f"{local:%H:%M}")

    def day(self, day: date) -> str:
        """A date: '09 Mar 2026'."""
        month = self.say("months").split()[day.month - 1]
        return self.say("day", day=f"{day:%d}", month=month, year=f"{day:%Y}")

    def has(self, code: str) -> bool:
        return f"screen.{code}" in words_of(SCREENS, self.language)

    def number(self, value: float, decimals: int = 0) -> str:
        """A number with so many decimals, its point as the language writes it."""
        return self.pointed(f"{value:.{decimals}f}")

    def amount(self, value: float) -> str:
        """A number without needless zeros: '3', '0.92'."""
        return self.pointed(f"{value:g}")

    def pointed(self, number: str) -> str:
        return number.replace(".", ",") if self.language in _COMMA else number


def screen_words(wanted: str) -> ScreenWords:
    """The screens' words for a person's language; one that is not written yet is told in English."""
    return ScreenWords(language_of(wanted))
