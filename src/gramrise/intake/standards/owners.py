"""Whose each record is: one person's file goes to the person it is brought for, several persons' to each their own."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from gramrise.connectors.fhir import FileReferences
from gramrise.connectors.standards import Record
from gramrise.domain.person import Person
from gramrise.intake.labels import own_words, person_named, share_a_word, shares_a_word
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import HeaderWords, folded

_NAMED = 5  # names told in one sentence; our choice


@dataclass(slots=True)
class Owners:
    """Who is who in one file, learned as its records come. Nothing is guessed: what stays open holds the file.

    household  everybody known, the person for whom the file is brought included
    subjects   names of subjects that a household has stated, as they stand in files -> person_id
    """

    file: str
    person: Person
    household: tuple[Person, ...]
    subjects: dict[str, str]
    words: HeaderWords
    others: frozenset[str] = frozenset()  # ids and names of the rest of the household, as `ReadContext.others`
    references: FileReferences | None = None  # what the file tells of its persons
    known: dict[str, Person] = field(default_factory=dict)  # by the name in the file
    strangers: list[str] = field(default_factory=list)
    unnamed: bool = False

    def divide(self, records: Iterable[Record]) -> dict[str, list[Record]]:
        """Records by person_id, in their order. Raises FileWaits once the file cannot be one person's."""
        divided: dict[str, list[Record]] = {}
        for record in records:
            divided.setdefault(self._of(record).person_id, []).append(record)
        self._check()
        return divided

    def person_of(self, person_id: str) -> Person:
        """The person with an id, as far as this file has brought records of theirs."""
        everybody = (self.person, *self.known.values())
        return next(person for person in everybody if person.person_id == person_id)

    def check_whole(self) -> None:
        """Raises FileWaits where all records are of somebody else than the person for whom the file is brought."""
        self._check_one_name()
        self._check_told()
        self._check_called()
        others = {person.person_id for person in self.known.values()}
        if len(others) == 1 and not self.strangers and self.person.person_id not in others:
            other = others.pop()
            raise FileWaits(
                "other_person",
                self.file,
                f"its records are of '{other}', and it was brought for '{self.person.person_id}'",
                f"bring it for '{other}'",
            )

    def _check_one_name(self) -> None:
        """Raises FileWaits where records refer to one person and show the names of two."""
        called = self.references.called if self.references is not None else {}
        for whose, told in called.items():
            names = [name for one in told for name in _names_of(one) if person_named(name, self.words)]
            own = [name for name in names if shares_a_word(name, self.person)]
            others = [name for name in names if name not in own and not share_a_word(name, (own or names)[0])]
            if others:
                raise FileWaits(
                    "several_persons", self.file,
                    f"its records of '{whose[:40]}' are called '{(own or names)[0][:40]}' in some, '{others[0][:40]}' "
                    "in others",
                    "bring each person's records as a file of their own; where all are this person's, have them "
                    "exported under one name",
                )  # fmt: skip

    def _check_called(self) -> None:
        """Raises FileWaits where the one name of the file is how another of the household is called, if not their id.

        Any other name that nobody here goes by may be a number at the sender, and is as often this person's.
        """
        for name in self.strangers:
            alone = _alone(name)
            if folded(alone) in self.others and not shares_a_word(alone, self.person):
                raise FileWaits(
                    "other_person", self.file,
                    f"it was brought for {self.person.name or self.person.person_id}, and its records are of "
                    f"'{alone[:40]}'",
                    "bring it for the person it names, or, where it is this person's, say so under [intake.subjects] "
                    f"in gramrise.toml: 'NAME' = '{self.person.person_id}', NAME as the records refer to them",
                )  # fmt: skip

    def _check_told(self) -> None:
        """Raises FileWaits where what the file tells of a person nobody here goes by cannot be this person."""
        if self.references is None:
            return
        told = [one for name in self.strangers for one in self.references.patients_of(name)]
        if self.unnamed and not self.known and not self.strangers:  # the one Patient beside records that name nobody
            told += [*self.references.patients.values(), *self.references.called.get("", [])]
        names = [name for one in told for name in _names_of(one)]
        births = [born for one in told if isinstance(born := one.get("birthDate"), str) and born]
        own_birth = self.person.born.isoformat()
        if any(own_birth == born for born in births) or any(shares_a_word(name, self.person) for name in names):
            return
        called = self.person.name or self.person.person_id
        names = [name for name in names if person_named(name, self.words)]
        if names and own_words(self.person):
            raise FileWaits(
                "other_person", self.file, f"it was brought for {called}, and its records are of '{names[0][:40]}'",
                "bring it for the person it names, or, where it is this person's, say so under [intake.subjects] in "
                f"gramrise.toml: 'NAME' = '{self.person.person_id}', NAME as the records refer to them",
            )  # fmt: skip
        if births and not any(own_birth.startswith(born) for born in births):
            raise FileWaits(
                "other_person", self.file,
                f"it names '{births[0][:20]}' as a birth date, and {called} was born on another day",
                "bring it for the person it is of, or, where one of the two dates is a slip, mend it with "
                f"gramrise person set {self.person.person_id} --born DATE",
            )  # fmt: skip

    def _of(self, record: Record) -> Person:
        if not record.whose:
            self.unnamed = self.unnamed or bool(record.facts)
            return self.person
        if record.whose in self.known:
            return self.known[record.whose]
        person = self._matched(record.whose)
        if person is not None:
            self.known[record.whose] = person
            return person
        if record.whose not in self.strangers and (record.facts or record.withdrawn):
            self.strangers.append(record.whose)
        return self.person

    def _matched(self, name: str) -> Person | None:
        """Somebody of the household whose id the name is, or of whom the household has stated the name."""
        alone = _alone(name)
        wanted = {self.subjects.get(name, self.subjects.get(alone, "")), alone} - {""}
        found = [person for person in self.household if person.person_id in wanted]
        return found[0] if len(found) == 1 else None

    def _check(self) -> None:
        """Raises FileWaits where a record's owner is not certain."""
        persons = {person.person_id for person in self.known.values()}
        strangers = _one_each(self.strangers)
        if len(strangers) + len(persons) <= 1:
            return
        if strangers:
            named = ", ".join(f"'{name}'" for name in strangers[:_NAMED])
            raise FileWaits(
                "several_persons",
                self.file,
                f"it holds records of several persons, and nobody here goes by {named}",
                "state whose each is under [intake.subjects] in gramrise.toml, as 'NAME' = 'person-id', and bring the "
                "file again",
            )
        if self.unnamed:
            raise FileWaits(
                "subject_missing",
                self.file,
                "it holds records of several persons, and others that name nobody",
                "have every record exported with its subject",
            )


def _alone(name: str) -> str:
    """A name without the server, the kind and the system before it: 'Patient/tom' is 'tom'."""
    return name.rsplit("|", maxsplit=1)[-1].rstrip("/").split("/")[-1].strip("'")


def _names_of(patient: dict[str, Any]) -> list[str]:
    """The names of a Patient resource, each as one text."""
    found = []
    told = patient.get("name")
    for one in told if isinstance(told, list) else ():
        if isinstance(one, dict):
            given = one.get("given")
            parts = [one.get("text"), *(given if isinstance(given, list) else ()), one.get("family")]
            found.append(" ".join(part for part in parts if isinstance(part, str)))
    return [name for name in found if any(mark.isalpha() for mark in name)]


def _one_each(names: list[str]) -> list[str]:
    """Names of different subjects: 'Patient/7' is the same as the one address that ends so."""
    ends: dict[str, list[str]] = {}
    for name in names:
        ends.setdefault("/".join(name.split("/")[-2:]), []).append(name)
    told = []
    for end, found in ends.items():
        addresses = [name for name in found if name != end]
        told += found if len(addresses) > 1 else [found[0]]
    return told
