"""Tables of one file side by side: two of one kind under different names may be two persons'."""

from dataclasses import dataclass

from gramrise.domain.batch import Batch
from gramrise.intake.files import TextTable
from gramrise.intake.labels import unknown_words
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import HeaderWords

_KINDS = ("readings", "fingers", "doses", "events", "weights")
_LEAST_LETTERS = 3  # of a word that may be a name; our choice: 'a' and 'b' number the parts of an export


@dataclass(frozen=True, slots=True)
class NamedTable:
    """The words nobody knows in what names a table - its sheet, key, member, or the lines above it - and its kinds."""

    names: frozenset[str]
    kinds: frozenset[str]


def named_table(table: TextTable, batch: Batch, words: HeaderWords) -> NamedTable:
    """What names a table, and what it brought."""
    _, _, inner = table.file.partition(": ")
    texts = (inner.rpartition(".")[0] or inner, *table.preamble)
    unknown = [word for text in texts for word in unknown_words(text, words) if len(word) >= _LEAST_LETTERS]
    kinds = [kind for kind in _KINDS if getattr(batch, kind).height]
    return NamedTable(frozenset(unknown), frozenset(kinds))


def check_one_person(file: str, tables: list[NamedTable]) -> None:
    """Raises FileWaits where two tables bring rows of one kind under names that differ in words nobody knows."""
    for at, one in enumerate(tables):
        for other in tables[at + 1 :]:
            apart = one.names - other.names, other.names - one.names
            if one.kinds & other.kinds and all(apart):
                first, second = (min(words) for words in apart)
                raise FileWaits(
                    "several_persons", file,
                    f"two of its tables bring the same kind of rows, one named '{first}', the other '{second}'",
                    "bring each person's tables as a file of their own; where all are this person's, name them alike",
                    (f"the table named '{first}'", f"the table named '{second}'", "both"),
                )  # fmt: skip
