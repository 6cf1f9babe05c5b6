"""Every word people read in the weekly report and its mail, by code and language, with locale-right numbers and dates.

The sentences stand in the word files (`word_files`). A table with `one` and `other` is chosen by `count`.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, lru_cache
from math import floor, log10
from typing import Final
from zoneinfo import ZoneInfo

from babel import Locale
from babel.dates import format_date, format_time
from babel.numbers import format_decimal, format_percent

from gramrise.domain.outcomes import EVIDENCE, OUTCOMES
from gramrise.domain.person import Dated, zone_on
from gramrise.domain.reasons import REASONS
from gramrise.domain.units import GlucoseUnit, from_mg_dl, to_mg_dl
from gramrise.report.word_files import LANGUAGES, NoSuchWords, flat_words, language_of, table

__all__ = ["LANGUAGES", "NoSuchWords", "Words", "flat_words", "language_of", "table", "words_for"]


def _log_next(code: str) -> str:
    from gramrise.estimate import log_next_sentence  # costly to import, seldom needed

    return log_next_sentence(code)


_ENGLISH: Final[dict[str, Callable[[str], str]]] = {
    "reason": lambda code: REASONS[code].parent,
    "outcome": lambda code: OUTCOMES[code].parent,
    "evidence": lambda code: EVIDENCE[code].parent,
    "log_next": _log_next,
}

# Our choice: two figures of a rise factor are as much as its doubt bears.
FACTOR_FIGURES: Final = 2
NEVER_PARTED: Final = "\u00a0"
MINUS: Final = "\u2212"  # the true minus sign, as wide as a figure


def words_for(wanted: str, unit: str, zone: str, zones: Dated[ZoneInfo] | None = None) -> "Words":
    """Words in a person's language, glucose unit ("mg/dL" or "mmol/L") and zone, or the zone of each day."""
    return Words(language_of(wanted), GlucoseUnit(unit), ZoneInfo(zone), zones)


@dataclass(frozen=True, slots=True)
class Words:
    """One person's language, glucose unit and clock. Levels come in as mg/dL, instants as UTC."""

    language: str
    unit: GlucoseUnit
    zone: ZoneInfo
    zones: Dated[ZoneInfo] | None = None  # of the days, where an instant is told on the clock of its place

    @property
    def locale(self) -> Locale:
        return _locale(self.language)

    def has(self, code: str) -> bool:
        return code in table(self.language)

    def say(self, code: str, /, **values: str | int) -> str:
        """The sentence of a code with its values put in. Whole numbers are written in the locale's way.

        raises NoSuchWords, naming the code, for an unknown code or a missing value
        """
        found = table(self.language).get(code)
        if isinstance(found, dict):
            found = found[self.locale.plural_form(int(values["count"]))] if "count" in values else None
        if found is None:
            raise NoSuchWords(code)
        written = {k: self.number(v) if isinstance(v, int) else v for k, v in values.items()}
        try:
            return _bound(str(found).format_map({"unit": str(self.unit), **written}))
        except KeyError as missing:
            raise NoSuchWords(f"{code} needs {missing}") from missing

    def told(self, kind: str, code: str) -> str:
        """What a reason, outcome, evidence or missing log says to a parent; the English is that of the lower floors.

        kind   "reason" | "outcome" | "evidence" | "log_next"
        """
        return _ENGLISH[kind](code) if self.language == "en" else self.say(f"{kind}.{code}")

    def number(self, value: float, decimals: int = 0) -> str:
        pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
        return _decimal(value, pattern, self.language).replace("-", MINUS)

    def grams(self, grams: float) -> str:
        """Grams as people write them: '6', '6.5'; to a tenth, no unit, no needless zero."""
        return _decimal(grams, "#,##0.#", self.language)

    def percent(self, share: float) -> str:
        return str(format_percent(share, locale=self.locale))

    def chance(self, probability: float) -> str:
        """A probability in whole percent, never 0 or 100: nothing judged from readings is that sure."""
        if round(100 * probability) < 1:
            return self.say("low.surely_not")
        return self.say("low.surely") if round(100 * probability) > 99 else self.percent(probability)

    def level(self, mg_dl: float) -> str:
        """A glucose level in the person's unit, without the unit: '58' or '3.2'."""
        return self.number(from_mg_dl(mg_dl, self.unit), 0 if self.unit is GlucoseUnit.MG_DL else 1)

    def factor(self, *mg_dl_per_g: float) -> tuple[str, ...]:
        """Rise factors in the person's unit, all with the decimals that give the first two figures."""
        values = [from_mg_dl(value, self.unit) for value in mg_dl_per_g]
        decimals = max(0, FACTOR_FIGURES - 1 - floor(log10(values[0]))) if values[0] > 0 else 1
        return tuple(self.number(value, decimals) for value in values)

    def to_mg_dl(self, value: float) -> float:
        """A value of the person's unit in mg/dL."""
        return to_mg_dl(value, self.unit)

    def mark(self, value: float) -> str:
        """A mark on a scale, in the person's unit already: '0.5', '7'."""
        return _decimal(value, "0.##", self.language)

    def slope(self, mg_dl_per_min: float) -> str:
        """How fast, without the sign: '2' or '0.1' a minute."""
        value = abs(from_mg_dl(mg_dl_per_min, self.unit))
        if self.unit is GlucoseUnit.MMOL_L:
            return str(format_decimal(value, "0.0#", locale=self.locale))
        return str(format_decimal(value, "0.#" if value < 2 else "0", locale=self.locale))

    def clock(self, at_utc: datetime) -> str:
        return str(format_time(at_utc, "HH:mm", tzinfo=self._zone(at_utc), locale=self.locale))

    def local_date(self, at_utc: datetime) -> date:
        return at_utc.astimezone(self._zone(at_utc)).date()

    def _zone(self, at_utc: datetime) -> ZoneInfo:
        return self.zone if self.zones is None else zone_on(self.zones, at_utc)

    def day(self, day: date, form: str = "medium") -> str:
        """A date as `date.<form>` of the words files says: medium, dated, brief or short."""
        return _day(day, table(self.language)[f"date.{form}"], self.language)

    def when(self, at_utc: datetime) -> str:
        """Day and clock of an instant: 'Tue 17 Nov 02:10'; a line may break only between the two."""
        return f"{self.day(self.local_date(at_utc), 'short').replace(' ', NEVER_PARTED)} {self.clock(at_utc)}"

    def when_dated(self, at_utc: datetime) -> str:
        """Day with its year and clock of an instant: 'Tue 17 Nov 2026 02:10'."""
        return f"{self.day(self.local_date(at_utc), 'dated').replace(' ', NEVER_PARTED)} {self.clock(at_utc)}"

    def band(self, name: str) -> str:
        """A time band's name in the person's language; a name of the family's own stays as it is."""
        code = f"band.{name}"
        return self.say(code) if self.has(code) else name

    def hours(self, hours: str) -> str:
        """A band's hours as printed: '22:00–07:00'."""
        return hours.replace("-", "–")

    def band_and_hours(self, name: str, hours: str) -> str:
        """A band as it is named in a text: 'Overnight 22:00–07:00'."""
        return f"{self.band(name)} {self.hours(hours)}".strip()


def _bound(sentence: str) -> str:
    """The sentence with every number tied to its unit, so that no line breaks between them."""
    return re.sub(r"(?<=\d) (?=(?:g|kg|min|h|mg/dL|mmol/L|%)(?!\w))", NEVER_PARTED, sentence)


# Our choice: a clinic's pages say the same levels, grams and days again and again, and saying one takes 200 us.
@lru_cache(maxsize=20_000)
def _decimal(value: float, pattern: str, language: str) -> str:
    return str(format_decimal(value, pattern, locale=_locale(language)))


@lru_cache(maxsize=4_000)
def _day(day: date, pattern: str, language: str) -> str:
    return str(format_date(day, pattern, locale=_locale(language)))


@cache
def _locale(language: str) -> Locale:
    return Locale.parse(language)
