"""Names and birth dates of persons in a line above a table, a cell or a key: whether they can be this person's."""

import re
from dataclasses import dataclass
from datetime import date
from typing import Final

from gramrise.domain.person import Person
from gramrise.intake.cells import possible_days
from gramrise.intake.labels.label_words import read_label, unknown_words
from gramrise.intake.words import HeaderWords, folded

_MOST_LETTERS: Final = 200  # of a line that are looked at; our choice: names stand at its beginning
_MOST_WORDS: Final = 4  # of a name; our choice: a longer text is a sentence
_VOWEL: Final = re.compile("[aeiouy]")
_LONGEST: Final = 11  # letters of a first name without a label before it; our choice: what is longer is a joined word
# Endings of German and English words for things.
_THINGS: Final = ("ung", "ungen", "heit", "keit", "gabe", "gaben", "lager", "fahrt", "reise", "zeit", "tag", "tage",
                  "woche", "ende", "jahr", "raum", "zimmer", "haus", "buch", "blatt", "plan", "werte", "iker", "tion",
                  "ions", "ing", "ings")  # fmt: skip
_MOST_FIRST_LAST: Final = 2  # words of a name behind words of a log
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
_BEHIND: Final = frozenset({"von", "fur", "fuer", "for", "of", "pour", "para", "per", "voor", "dla", "for:", "de"})
_UNDECIDED: Final = frozenset({"vom", "ab", "bis", "from", "to", "until", "since", "seit", "am", "du", "del"})
_LOGS: Final = ("protokoll", "protokolle", "log", "tagebuch", "liste", "diary", "logbuch", "logbook", "journal",
                "dagboek", "dagbok", "dziennik", "diario", "protocol", "protocole")  # fmt: skip
# Words for a person that stand before a name; accounts and users are as often a parent's.
_LABELS: Final = frozenset({
    "person", "name", "subject", "who", "wer", "qui", "persona", "patient", "patientin", "child", "kid", "kind",
    "prenom", "nom", "nombre", "vorname", "nachname", "familienname", "surname", "enfant", "nino", "nina", "hijo",
    "hija", "paciente", "paziente", "bambino", "bambina", "nome", "pacjent", "dziecko", "imie", "barn", "namn",
    "crianca", "naam", "apellido", "apellidos", "cognome", "firstname", "lastname",
})  # fmt: skip
_BESIDE_LABELS: Final = frozenset({
    "first", "last", "full", "given", "family", "the", "of", "des", "der", "dein", "my", "our", "mein", "meines",
    "unser", "unseres", "du", "de", "la", "le", "del", "kindes", "patienten", "person", "vor", "und", "and", "s",
})  # fmt: skip
_ANY_CHILD: Final = frozenset({"kid", "child", "kind", "son", "sohn", "tochter", "daughter", "patient", "person", "me",
                               "ich", "baby", "boy", "girl", "junge", "madchen", "enfant", "hijo", "hija"})  # fmt: skip
# Whole words with a capital that are no name of a child: institutions, titles of people, and kinds of papers.
_NO_NAMES: Final = frozenset({
    "diabetes", "hypo", "hypos", "typ", "arzt", "arztin", "aerztin", "ambulanz", "klinik", "praxis", "diabetologe",
    "diabetologin", "diabetologen", "kita", "kindergarten", "schule", "hort", "krankenkasse", "doctor", "doctors", "dr",
    "clinic", "hospital", "teacher", "teachers", "nurse", "frau", "herr", "mr", "mrs", "ms", "mme", "senor", "senora",
    "untitled", "unnamed", "unbekannt", "unknown", "anonymous", "anonym", "none", "null", "test", "demo", "default",
    "standard", "nacht", "nachts", "nachte", "tage", "summary", "overview", "ubersicht", "auswertung", "statistik",
    "zusammenfassung", "statistics", "family", "familie", "family's",
    "therapy", "therapie", "treatment", "treatments", "behandlung", "unterzuckerung", "unterzuckerungen", "zuhause",
    "home", "office", "buro", "care", "team", "center", "centre", "zentrum", "camp", "ferien", "urlaub",
    "holiday", "holidays",
    "school", "sheet", "kids", "children", "child", "kind", "kinder", "traubenzuckergaben", "gaben", "givings",
    "kuhlschrank", "fridge", "kuche", "kitchen", "anfang", "ende", "start", "end", "neu", "new", "alt", "old",
    "me", "ich", "self", "selbst", "selber", "moi", "yo", "io", "kindes", "all", "alle", "everybody",
    "grandmother", "grandfather", "granny", "nana", "grandparents", "grosseltern", "tante", "onkel", "aunt", "uncle",
    "auntie", "babysitter", "nanny", "coach", "trainer", "trainerin", "betreuer", "betreuerin", "betreuung",
    "tagesmutter", "schulbegleitung", "schulbegleiter", "schulbegleiterin", "begleitung", "schulhelfer",
    "integrationshelfer", "integrationshelferin", "carer", "caregiver", "assistant", "aide", "staff", "ecole",
    "escuela", "maestra", "maestro", "infirmiere", "enfermera", "krankenschwester", "pfleger", "pflegerin",
    "pflegedienst", "mamma", "nonna", "nonno", "babcia", "dziadek", "mormor", "farmor", "morfar", "farfar", "moeder",
    "vader",
    "book", "books", "lows", "highs", "diabetiker", "diabetikerin", "apotheke", "pharmacy", "pharmacie", "farmacia",
    "sommer", "winter", "herbst", "fruhling", "travel", "trip", "reise", "vacation", "vacances", "vacaciones",
    "korrigiert", "corrected", "corrige", "final", "weekend", "weekends", "kiosk", "markt", "supermarkt", "laden",
    "montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonnabend", "sonntag", "monday", "tuesday",
    "wednesday", "thursday", "friday", "saturday", "sunday", "pumpe", "pump", "gerat", "device", "handy", "phone",
    "yes", "ja", "oui", "si", "no", "nein", "non", "sensor", "app", "manual", "manuell", "sonstige", "other", "others",
})  # fmt: skip


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
    return possible_days(text.strip().partition("T")[0])


def person_named(cell: str, words: HeaderWords) -> str:
    """The name of a person that a cell is: up to four words that nobody has taught us; '' for anything else.

    Adults, schools and nurses are no owners of a file: such a cell says who gave or noticed.
    """
    text = _END.split(cell.strip(_ORNAMENTS), maxsplit=1)[0].strip(_ORNAMENTS)
    parts = _TOKEN.findall(text)
    if any(mark.isdigit() or mark in "_@" for mark in cell.partition(" ")[0]) or not 1 <= len(parts) <= _MOST_WORDS:
        return ""
    return text if _may_be_names(_WORD.findall(text), words) else ""


def shares_a_word(name: str, person: Person) -> bool:
    """Whether a word of a name stands in the person's id or name, with an s of the possessive or without."""
    own, said = own_words(person), _words_of(name)
    return bool(said & own) or bool({word.removesuffix("s") for word in said} & {one.removesuffix("s") for one in own})


def _may_be_names(parts: list[str], words: HeaderWords) -> bool:
    plain = [folded(part) for part in parts if len(part) >= _LEAST_LETTERS]
    if set(plain) & _no_names(words) or any(part.endswith(_LOGS) for part in plain):
        return False
    aside = {folded(word) for word in words.states["aside"]}  # 'Muster' may be a surname, alone it is an example
    things = [part for part in parts if part.islower() and read_label(part, words).meanings - {"filler"}]
    if things and len(plain) > 1:
        return False  # 'sgv entries', but 'Tom von Berg'
    return any(_VOWEL.search(part) and unknown_words(part, words) for part in plain if part not in aside)


def _no_names(words: HeaderWords) -> frozenset[str]:
    kept = words.made.get("no names of persons")
    if kept is None:
        taught = [*words.amounts["adult"], *words.columns["relative"], *words.amounts["numbers"]]
        taught += [*words.states["good"], *words.states["bad"], *words.amounts["piece"]]
        kept = words.made["no names of persons"] = _NO_NAMES | {part for one in taught for part in folded(one).split()}
    assert isinstance(kept, frozenset)
    return kept


def _labelled(text: str, words: HeaderWords) -> list[str]:
    """'Name: Tom Beispiel', 'patient name: tom'; without a colon only words with a capital: 'Patient Tom'."""
    found = _LABELLED.match(text)
    if found is not None:
        if not _is_label(found[1]):
            return []
        name = person_named(found[2], words)
        return [name] if name else []
    parts = _END.split(text, maxsplit=1)[0].split()
    if len(parts) < 2 or not _is_label(parts[0]):
        return []
    run = []
    for part in parts[1:]:
        if not _is_capital_name(part, words):
            break
        run.append(part)
    return [" ".join(run)] if len(run) < _MOST_WORDS and _may_be_names(run, words) else []


def _is_label(text: str) -> bool:
    said = _WORD.findall(folded(text))
    return bool(set(said) & _LABELS) and set(said) <= _LABELS | _BESIDE_LABELS


def _is_capital_name(word: str, words: HeaderWords) -> bool:
    """One word with a capital and no other that nobody has taught us: a name, where nothing says otherwise."""
    letters = _WORD.findall(word)
    if len(letters) != 1 or letters[0] != word.strip(_ORNAMENTS) or len(letters[0]) < _LEAST_LETTERS:
        return False
    plain = folded(letters[0])
    if not letters[0][0].isupper() or not letters[0][1:].islower() or plain in _no_names(words):
        return False
    thing = any(plain.endswith(end) and len(plain) > len(end) + 1 for end in _THINGS)
    named = len(plain) <= _LONGEST and not plain.endswith(_LOGS) and not thing
    return named and bool(unknown_words(plain, words))


def _aged(text: str, words: HeaderWords) -> list[str]:
    """'Tom, 7 Jahre'."""
    found = _AGED.match(folded(text))
    parts = text[: found.end(1)].replace(",", " ").split() if found is not None else []
    return [" ".join(parts)] if parts and all(_is_capital_name(part, words) for part in parts) else []


def _behind(text: str, person: Person, words: HeaderWords) -> list[str]:
    """'Export f\u00fcr Tom Beispiel', 'Traubenzucker von Tom': known words, a word for whose it is, and a name."""
    parts = _END.split(text, maxsplit=1)[0].split()
    while parts and folded(parts[-1]).strip(":") in _UNDECIDED:
        parts.pop()
    at = next((at for at in range(len(parts) - 1, -1, -1) if folded(parts[at]) in _BEHIND), -1)
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
    if len(parts) == 2 and parts[0].endswith("s") and folded(parts[1]).endswith(_LOGS):  # 'Toms Protokoll'
        return [whose] if _is_capital_name(whose, words) and _is_capital_name(whose + "s", words) else []
    at = next((at for at, part in enumerate(parts) if _is_capital_name(part, words)), 0)
    name, before = parts[at:], [folded(part).strip(":") for part in parts[:at]]
    known = all(part.endswith(_LOGS) or not unknown_words(part, words) for part in before)
    if not known or not any(part.endswith(_LOGS) for part in before) or not 1 <= len(name) <= _MOST_FIRST_LAST:
        return []
    named = all(_is_capital_name(part, words) for part in name) and _may_be_names(name, words)
    return [" ".join(name)] if named else []


def _is_known(word: str, person: Person, words: HeaderWords) -> bool:
    plain = folded(word).strip(_ORNAMENTS)
    named = {
        part for one in person.sources_now() for name in (one.name, *one.other_names) for part in folded(name).split()
    }
    return plain.endswith(_LOGS) or plain in named or not unknown_words(plain, words)


def is_birth_label(text: str, words: HeaderWords) -> bool:
    """Whether a header or key says that it holds a birth date: 'patient.born', 'Geburtsdatum', 'birthDate'."""
    label = read_label(text, words)
    return "not_time" in label.meanings and bool(_BIRTH.search(folded(text)))


_BIRTH: Final = re.compile(
    r"birth|\bborn|\bdob\b|geburt|geboren|naissance|nacimiento|nascita|geboorte|urodzenia|fodelse|nascimento"
)
