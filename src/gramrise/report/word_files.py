"""The word files: sentences by code, in each language that is written. Reads them without any library of the report."""

import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any, Final

LANGUAGES: Final = ("en", "de")
SCREENS: Final = "screens.{}.toml"
# Names of the word files under gramrise/report/words, by language: the report's own, those of card and plan sheet,
# those of the step sheet, and those of the screens.
WORD_FILES: Final = ("{}.toml", "card.{}.toml", "mixing.{}.toml", "review.{}.toml", "web.{}.toml", SCREENS)


# What sources refuse or warn of, whole sentences; English needs no file of them.
REFUSALS: Final = "refusals.{}.toml"


class NoSuchWords(KeyError):
    """A code without a sentence, or a sentence whose values were not given: a fault of the program."""


@cache
def table(language: str) -> dict[str, Any]:
    """The flat table of one language: dotted code -> sentence, or {one, other}."""
    return {code: words for name in WORD_FILES for code, words in words_of(name, language).items()}


@cache
def words_of(name: str, language: str) -> dict[str, Any]:
    """The flat table of one word file in one language."""
    file = files("gramrise.report").joinpath("words", name.format(language))
    return dict(flat_words(tomllib.loads(file.read_text("utf-8")), ""))


@cache
def sentences_of(language: str) -> dict[str, str]:
    """The refusals of one language: English sentence -> its words."""
    file = files("gramrise.report").joinpath("words", REFUSALS.format(language))
    return {english: str(words) for english, words in tomllib.loads(file.read_text("utf-8")).items()}


def flat_words(branch: dict[str, Any], at: str) -> Iterator[tuple[str, Any]]:
    """Every sentence below a table, with its dotted code."""
    for key, value in branch.items():
        code = f"{at}{key}"
        if isinstance(value, dict) and set(value) != {"one", "other"}:
            yield from flat_words(value, f"{code}.")
        else:
            yield code, value


def language_of(wanted: str) -> str:
    """The language of the words for a person's: 'de-AT' gives 'de'; one that is not written yet gives 'en'."""
    short = wanted.replace("_", "-").split("-")[0].lower()
    return short if short in LANGUAGES else "en"
