"""Words beside a value that may speak of another child ('for his brother', 'Ben:'), or say that it does not count."""

import re
from functools import lru_cache

from gramrise.intake.context import ReadContext
from gramrise.intake.labels import unknown_words
from gramrise.intake.words import HeaderWords, folded

_FOR = re.compile(
    r"\b(?:for|to|f\u00fcr|fuer|an|pour|\u00e0|para|per|voor|dla|till|f\u00f6r)\s{1,9}([A-Z\u00c0-\u00dd][^\W\d_]{1,30})"
)
_CAPITAL = r"([A-Z\u00c0-\u00dd][^\W\d_]{1,30})"
# 'Hat Tom bekommen', 'das war Tom', 'von Tom gegessen', 'eaten by Tom': somebody else ate it.
_BY = re.compile(
    rf"\b(?:(?:hat|von|bekam|a\u00df) {_CAPITAL} (?:bekommen|gegessen|genommen|gekriegt)"
    rf"|(?:[Dd]as|[Ee]s|[Ii]t|[Tt]hat) (?:war|was) {_CAPITAL}\s{{0,3}}[.!]?\s{{0,3}}\Z"
    rf"|(?:eaten|taken|drunk) by {_CAPITAL}|(?:mang\u00e9|pris) par {_CAPITAL}|(?:comido|tomado) por {_CAPITAL})"
)
_NOT = re.compile(r"\b(?:not|nicht|kein|pas|no|niet|non) (?:for |f\u00fcr |von |by |pour |para )?([^\W\d_]{1,30})")
_WORDS = re.compile(r"[^\W\d_]+(?:'s)?")
_NOT_GIVEN = frozenset(
    {"not given", "not taken", "not eaten", "nicht gegeben", "nicht genommen", "pas donne", "no dado"}
)
_ATE = re.compile(
    r" (?:mama|mami|papa|papi|mom|mum|dad|daddy|mummy|oma|opa|grandma|grandpa|maman|abuela|abuelo|parent|ich)"
    r" (?:ate|took|drank|had|ass|nahm|trank|hatte|a mange|a pris|a bu|comio|tomo) "
)
_INITIAL = re.compile(r"([A-Z])\s?[:)-]\s")
_WORDS_BETWEEN = 1  # 'of his brother'; our choice
_MOST_WORDS = 3  # of a line that is only a name; our choice


def speaks_of_another(text: str, context: ReadContext) -> bool:
    """Whether the words of an entry name a sibling, a friend, another person of the household, or 'for' somebody."""
    plain = set(re.findall(r"[a-z0-9]+", folded(text)))
    if plain & context.others or plain & _relatives(context.words) or _ATE.search(f" {folded(text)} "):
        return True
    by = [name for found in _BY.findall(text) for name in found if name]
    own = {folded(context.person.person_id), *folded(context.person.name).split()}
    if any(folded(found) in own for found in _NOT.findall(text)):
        return True  # 'not Mira'
    return any(_nobody_knows(found, context) for found in (*_FOR.findall(text), *by))


def is_of_another(text: str, context: ReadContext) -> bool:
    """Whether a remark says whose a measurement is, and that it is another's: 'value of his brother Tom'.

    Of whom else it speaks, 'played with her brother', changes nothing of what was measured on this person.
    """
    spoken = re.findall(r"[a-z0-9]+", folded(text))
    others, behind = context.others | _relatives(context.words), context.words.listed("whose", "behind")
    return any(
        word in behind and others.intersection(spoken[at + 1 : at + 2 + _WORDS_BETWEEN])
        for at, word in enumerate(spoken)
    )


def denies_its_row(text: str, context: ReadContext, *, given: bool) -> bool:
    """Whether a remark says that what stands beside it does not count: 'entered by mistake', 'Testmessung'.

    given  what stands beside it was given or eaten: it may also have been planned, refused, or spat out
    """
    plain = f" {' '.join(re.findall(r'[a-z0-9]+', folded(text)))} "
    phrases = _folded(context.words.states["denied"])
    if given:
        phrases |= _folded(context.words.amounts["not_given"]) | _NOT_GIVEN
    return any(f" {phrase} " in plain for phrase in phrases)


def is_persons_heading(line: str, context: ReadContext) -> bool:
    """Whether a line without a time is a name that may begin another person's entries: 'Ben:', 'Schwester'."""
    words = _WORDS.findall(line)
    if not 1 <= len(words) <= _MOST_WORDS or any(mark.isdigit() for mark in line):
        return False
    return speaks_of_another(line, context) or any(_nobody_knows(word, context) for word in words)


def leading_name(text: str, context: ReadContext) -> str:
    """The word with a capital that nobody has taught us and with which an entry begins: 'Ben 3 tablets'; else ''."""
    initial = _INITIAL.match(text)
    if initial is not None:
        return initial[1]
    found = _WORDS.match(text)
    return found.group() if found is not None and _nobody_knows(found.group(), context) else ""


def _nobody_knows(word: str, context: ReadContext) -> bool:
    plain = folded(word)
    own = {folded(context.person.person_id), *folded(context.person.name).split()}
    if not word[:1].isupper() or plain in own or plain in _known(context.words):
        return False
    named = {
        part
        for one in context.person.sources_now()
        for part in folded(f"{one.name} {' '.join(one.other_names)}").split()
    }
    return plain not in named and bool(unknown_words(word, context.words))


def _relatives(words: HeaderWords) -> frozenset[str]:
    return _folded(words.columns["relative"])


def _known(words: HeaderWords) -> frozenset[str]:
    amounts = [entries for kind, entries in words.amounts.items() if kind != "everyday"]  # 'Park' may be a name
    lists = [*amounts, *words.states.values(), *words.forms.values(), *words.clock.values()]
    return _folded(tuple(part for entries in lists for entry in entries for part in entry.split()))


@lru_cache(maxsize=8)
def _folded(entries: tuple[str, ...]) -> frozenset[str]:
    return frozenset(folded(entry) for entry in entries)
