"""Names and birth dates of persons in a line above a table, a cell or a key: whether they can be this person's."""

import re
from dataclasses import dataclass
from datetime import date
from typing import Final

from gramrise.domain.person import Person
from gramrise.intake.cells import possible_days
from gramrise.intake.labels.label_words import read_label, unknown_words
from gramrise.intake.words import HeaderWords, folded

_MOST_LETTERS: Final = 200  # of a line or cell that are looked at; our choice: names stand at its beginning
_MOST_WORDS: Final = 4  # of a name; our choice: a longer text is a sentence
_VOWEL: Final = re.compile("[aeiouy]")
_LONGEST: Final = 11  # letters of a first name without a label before it; our choice: what is longer is a joined word
_BEFORE_ENDING: Final = 2  # letters at least that stand before the ending of a word for a thing
_MOST_FIRST_LAST: Final = 2  # words of a name behind words of a log
_CAMEL: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")
_POSSESSIVE: Final = re.compile(r"['\u2019]s\b")
_LEAST_LETTERS: Final = 2  # of a word that is a name, and no initial
_WORD: Final = re.compile(r"[^\W\d_]+")
_TOKEN: Final = re.compile(r"\S+")
_ORNAMENTS: Final = " \t#*-/;=|\"'.:,()[]<>"
# What ends a name: a figure, a mark, the birth that stands behind it.
_END: Final = re.compile(r"[\d(\[,;|*@]|\b(?:geb|geboren|born|n\u00e9e?|nacid[oa]|dob|alter|age)\b", re.IGNORECASE)
_LABELLED: Final = re.compile(r"([^:=,;\d]{1,40})[:=,;]\s{0,9}(\S.{0,80})")
_DAY: Final = (
    r"\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[./-] ?\d{1,2}[./-] ?\d{2,4}|\d{1,2}\.? [a-z]{3,12} \d{4}"
    r"|[a-z]{3,12}\.? \d{1,2},? \d{4}"
)
_BORN: Final = re.compile(
    r"(?:(?<=[a-z])\*|(?<=[a-z] )\*|\b(?:geb|geboren|geburtsdatum|geburtstag|born|birth ?date|date of birth|birthday"
    r"|dob|nee? le|ne le|date de naissance|naissance|fecha de nacimiento|nacimiento|nacid[oa](?: el)?|data di nascita"
    r"|nat[oa](?: il)?|geboortedatum|data urodzenia|fodelsedatum|data de nascimento)\b[^\d]{0,12}?) ?"
    rf"({_DAY})(?!\d)"
)
_AGED: Final = re.compile(
    r"((?:[^\W\d_]{2,30}[ ,]{1,3}){1,3})\(?\d{1,2} ?(?:jahre?|j\.|years?|yrs?|ans|anos?|anni|jaar|lat|ar)\b"
)
_ANY_CHILD: Final = frozenset({"kid", "child", "kind", "son", "sohn", "tochter", "daughter", "patient", "person", "me",
                               "ich", "baby", "boy", "girl", "junge", "madchen", "enfant", "hijo", "hija"})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Named:
    """What a text says of whose it is: names as they stand there, and the days that each birth date may mean."""

    names: tuple[str, ...] = ()
    births: tuple[tuple[str, tuple[date, ...]], ...] = ()


def own_words(person: Person) -> frozenset[str]:
    """The words of a person's id and name; none where the id is a number or 'child' and no name was stated."""
    return frozenset(_words_of(f"{person.person_id} {person.name}".replace("_", " "))) - _ANY_CHILD


def _words_of(name: str) -> set[str]:
    """The words of a name without initials: 'J\u00fcrgen' and 'Juergen' are one."""
    plain = folded(name).replace("ae", "a").replace("oe", "o").replace("ue", "u")
    return {word for word in _WORD.findall(plain) if len(word) >= _LEAST_LETTERS}


def named_in_line(line: str, person: Person, words: HeaderWords) -> Named:
    """Whom a line above a table plainly names: 'Name: Tom', 'born 2019-01-01', 'Protokoll Tom'.

    A word that a header could hold, or a name of a source of glucose, is no name of a person.
    """
    text = line.strip(_ORNAMENTS)[:_MOST_LETTERS]
    names = _labelled(text, words) or _aged(text, words) or _behind(text, person, words) or _of_a_log(text, words)
    return Named(tuple(names), tuple(births_in(text)))


def births_in(text: str) -> list[tuple[str, tuple[date, ...]]]:
    """Each birth date of a text as it stands there, with the days that it may mean."""
    found = [written.replace(". ", ".").replace("/ ", "/") for written in _BORN.findall(folded(text)[:_MOST_LETTERS])]
    return [(written, days) for written in found if (days := days_written(written))]


def days_written(text: str) -> tuple[date, ...]:
    """The days that a birth date may mean, an instant's day among them."""
    plain = text.strip().partition("T")[0]
    return possible_days(plain) if len(plain) <= _MOST_LETTERS else ()


def person_named(cell: str, words: HeaderWords) -> str:
    """The name of a person that a cell is: up to four words that nobody has taught us; '' for anything else.

    Adults, schools and nurses are no owners of a file: such a cell says who gave or noticed.
    """
    text = _END.split(cell.strip(_ORNAMENTS)[: _MOST_LETTERS + 1], maxsplit=1)[0]
    if len(text) > _MOST_LETTERS:
        return ""
    text = text.strip(_ORNAMENTS)
    parts = _TOKEN.findall(text)
    if any(mark.isdigit() or mark in "_@" for mark in cell.partition(" ")[0]) or not 1 <= len(parts) <= _MOST_WORDS:
        return ""
    return text if _may_be_names(_WORD.findall(text), words) else ""


def shares_a_word(name: str, person: Person) -> bool:
    """Whether a word of a name stands in the person's id or name, with an s of the possessive or without.

    A surname alone is also a brother's: 'Tom Beispiel' and 'T. Beispiel' share no word with Mira Beispiel.
    """
    own, said = own_words(person), _words_of(name)
    bare = {one.removesuffix("s") for one in own}
    shared = {word for word in said if word in own or word.removesuffix("s") in bare}
    family = _words_of(person.name.split()[-1]) - _words_of(person.person_id) if " " in person.name.strip() else set()
    if not shared or not shared <= family:
        return bool(shared)
    initials = {word for word in _WORD.findall(folded(_POSSESSIVE.sub("", name))) if len(word) == 1}
    return not said - shared and (not initials or bool(initials & {word[0] for word in own}))


def share_a_word(name: str, other: str) -> bool:
    """Whether two names have a word in common: 'Mira' and 'MUSTER, MIRA'."""
    return bool(_words_of(name) & _words_of(other))


def relative_named(line: str, person: Person, words: HeaderWords) -> bool:
    """Whether a line says that it is a relative's of this person: 'Bruder von Mira', 'Mira's sister'."""
    parts = [(folded(part), _POSSESSIVE.sub("", part)) for part in _TOKEN.findall(line[:_MOST_LETTERS])]
    relatives, behind = words.listed("columns", "relative"), words.listed("whose", "behind")
    for at, (part, _) in enumerate(parts):
        if part.strip(_ORNAMENTS) not in relatives:
            continue
        if at and shares_a_word(parts[at - 1][1], person):
            return True
        if at + 2 < len(parts) and parts[at + 1][0] in behind and shares_a_word(parts[at + 2][1], person):
            return True
    return False


def name_below(label: str, line: str, words: HeaderWords) -> str:
    """The name that stands in a line under one of nothing but labels: 'First name, Last name'; '' where none does."""
    if not _is_label(label, words) or not all(part[:1].isupper() for part in _TOKEN.findall(line)):
        return ""
    return person_named(line, words)


def _may_be_names(parts: list[str], words: HeaderWords) -> bool:
    plain = [folded(part) for part in parts if len(part) >= _LEAST_LETTERS]
    if set(plain) & _no_names(words) or any(_is_log(part, words) for part in plain):
        return False
    aside = words.listed("states", "aside")  # 'Muster' may be a surname, alone it is an example
    initial = any(len(part) < _LEAST_LETTERS for part in parts)  # beside an initial it is one
    things = [part for part in parts if part.islower() and read_label(part, words).meanings - {"filler"}]
    if things and len(plain) > 1:
        return False  # 'sgv entries', but 'Tom von Berg'
    names = [part for part in plain if initial or part not in aside]
    return any(_VOWEL.search(part) and (part in aside or unknown_words(part, words)) for part in names)


def _no_names(words: HeaderWords) -> frozenset[str]:
    kept = words.made.get("no names of persons")
    if kept is None:
        taught = [*words.amounts["adult"], *words.columns["relative"], *words.amounts["numbers"]]
        taught += [*words.states["good"], *words.states["bad"], *words.amounts["piece"]]
        known = {part for one in taught for part in folded(one).split()}
        kept = words.made["no names of persons"] = words.listed("whose", "no_names") | known
    assert isinstance(kept, frozenset)
    return kept


def _is_log(word: str, words: HeaderWords) -> bool:
    """Whether a folded word ends as the name of a log does: 'glukoseprotokoll'."""
    return word.endswith(tuple(words.listed("whose", "logs")))


def _is_thing(word: str, words: HeaderWords) -> bool:
    endings = words.listed("whose", "thing_endings")
    return any(word.endswith(ending) and len(word) - len(ending) >= _BEFORE_ENDING for ending in endings)


def _labelled(text: str, words: HeaderWords) -> list[str]:
    """'Name: Tom Beispiel', 'patientName: tom'; without a colon only words with a capital: 'Patient Tom'."""
    found = _LABELLED.match(text)
    if found is not None:
        if not _is_label(found[1], words):
            return []
        name = person_named(found[2], words)
        return [name] if name else []
    parts = _END.split(text, maxsplit=1)[0].split()
    labels = next((at for at in range(len(parts) - 1, 0, -1) if _is_label(" ".join(parts[:at]), words)), 0)
    if not labels:
        return []
    run = []
    for part in parts[labels:]:
        if not _is_capital_name(part, words):
            break
        run.append(part)
    return [" ".join(run)] if len(run) < _MOST_WORDS and _may_be_names(run, words) else []


def _is_label(text: str, words: HeaderWords) -> bool:
    """Whether a text is a word for a person, and others that stand beside one; 'export.patient.name', 'childName', too.

    A name of an export or of a list is its own: there, the label must say more than 'name'.
    """
    said, labels = set(_WORD.findall(folded(_CAMEL.sub(" ", text)))), words.listed("whose", "labels")
    more = said - labels - words.listed("whose", "beside_labels")
    if more:
        return more <= words.listed("whose", "keys") and bool(said & labels - words.listed("whose", "names"))
    return bool(said & labels)


def _is_capital_name(word: str, words: HeaderWords) -> bool:
    """One word with a capital and no other that nobody has taught us: a name, where nothing says otherwise."""
    letters = _WORD.findall(word)
    if len(letters) != 1 or letters[0] != word.strip(_ORNAMENTS) or len(letters[0]) < _LEAST_LETTERS:
        return False
    plain = folded(letters[0])
    if not letters[0][0].isupper() or not letters[0][1:].islower() or plain in _no_names(words):
        return False
    named = len(plain) <= _LONGEST and not _is_log(plain, words) and not _is_thing(plain, words)
    return named and bool(unknown_words(plain, words))


def _aged(text: str, words: HeaderWords) -> list[str]:
    """'Tom, 7 Jahre'."""
    found = _AGED.match(folded(text))
    parts = text[: found.end(1)].replace(",", " ").split() if found is not None else []
    return [" ".join(parts)] if parts and all(_is_capital_name(part, words) for part in parts) else []


def _behind(text: str, person: Person, words: HeaderWords) -> list[str]:
    """'Export f\u00fcr Tom Beispiel', 'Traubenzucker von Tom': known words, a word for whose it is, and a name."""
    parts = _END.split(text, maxsplit=1)[0].split()
    undecided, behind = words.listed("whose", "undecided"), words.listed("whose", "behind")
    while parts and folded(parts[-1]).strip(":") in undecided:
        parts.pop()
    at = next((at for at in range(len(parts) - 1, -1, -1) if folded(parts[at]) in behind), -1)
    name = parts[at + 1 :]
    if at < 0 or not 1 <= len(name) < _MOST_WORDS or not all(_is_capital_name(part, words) for part in name):
        return []
    known = all(_is_known(part, person, words) for part in parts[:at])
    return [" ".join(name)] if known and _may_be_names(name, words) else []


def _of_a_log(text: str, words: HeaderWords) -> list[str]:
    """'Protokoll Tom', 'Glucose log Tom': words of a log, and behind them one with a capital that nobody knows."""
    parts = _END.split(text.replace("(", " ").replace("-", " "), maxsplit=1)[0].split()
    if not 2 <= len(parts) <= _MOST_WORDS:
        return []
    whose = parts[0].removesuffix("s").removesuffix("'").removesuffix("\u2019")
    if _POSSESSIVE.search(parts[0]) and not any(unknown_words(part, words) for part in parts[1:]):  # 'Tom's readings'
        return [whose] if _is_capital_name(whose, words) else []
    if len(parts) == 2 and parts[0].endswith("s") and _is_log(folded(parts[1]), words):  # 'Toms Protokoll'
        return [whose] if _is_capital_name(whose, words) and _is_capital_name(whose + "s", words) else []
    at = next((at for at, part in enumerate(parts) if _is_capital_name(part, words)), 0)
    name, before = parts[at:], [folded(part).strip(":") for part in parts[:at]]
    known = all(_is_log(part, words) or not unknown_words(part, words) for part in before)
    if not known or not any(_is_log(part, words) for part in before) or not 1 <= len(name) <= _MOST_FIRST_LAST:
        return []
    named = all(_is_capital_name(part, words) for part in name) and _may_be_names(name, words)
    return [" ".join(name)] if named else []


def _is_known(word: str, person: Person, words: HeaderWords) -> bool:
    plain = folded(word).strip(_ORNAMENTS)
    named = {part for one in person.sources_now() for name in one.names for part in folded(name).split()}
    return _is_log(plain, words) or plain in named or not unknown_words(plain, words)


def is_birth_label(text: str, words: HeaderWords) -> bool:
    """Whether a header or key says that it holds a birth date: 'patient.born', 'Geburtsdatum', 'birthDate'."""
    label = read_label(text, words)
    return "not_time" in label.meanings and bool(_BIRTH.search(folded(text)))


_BIRTH: Final = re.compile(
    r"birth|\bborn|\bdob\b|geburt|geboren|naissance|nacimiento|nascita|geboorte|urodzenia|fodelse|nascimento"
)
