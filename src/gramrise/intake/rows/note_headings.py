"""Lines of a note without a time that change what stands above or below them: 'Not given:', '-> spat out'."""

from dataclasses import dataclass

from gramrise.intake.cells import heading_denies, read_amount
from gramrise.intake.context import ReadContext
from gramrise.intake.rows.other_persons import denies_its_row, speaks_of_another
from gramrise.intake.words import folded

_LOOKED_AT = 200  # characters of a line beneath an amount; our choice: a remark is no longer


@dataclass(slots=True)
class Headings:
    """Whether a heading that holds for the next line says, or may say, that what follows was not given.

    It holds until a blank line, a day, or another heading; a day right beneath it is its own.
    """

    context: ReadContext
    denies: bool = False
    _ends_in_colon: bool = False
    _used: bool = False  # a line with a time stood under it

    def blank(self) -> None:
        """A line of nothing ends it, but for one right beneath 'Not given:'."""
        self.denies = self.denies and self._ends_in_colon and not self._used

    def day(self) -> None:
        """A day alone in its line."""
        self.denies = self.denies and not self._used

    def timed(self) -> None:
        """A line with a time."""
        self._used = True

    def untimed(self, line: str, *, beneath_an_amount: bool) -> None:
        """A line without a day and a time: a heading, or words about the amount right above."""
        colon = line.rstrip().endswith(":")
        if beneath_an_amount and not colon and not line.lstrip()[:1].isupper():
            return  # '-> spat out' speaks of what stands above
        person = self.context.person
        own = frozenset(folded(f"{person.person_id} {person.name}").split())
        found = heading_denies(line, person.sources_now(), own, self.context.words)
        if found or colon:
            self.denies, self._ends_in_colon, self._used = found, colon, False


def with_line_beneath(text: str, line: str, context: ReadContext) -> str:
    """The words of an amount, with those of the line right beneath it where these leave it open or take it back.

    A heading, which ends in a colon, speaks of what is below it.
    """
    sources, words = context.person.sources_now(), context.words
    alone = read_amount(text, sources, words)
    if line.rstrip().endswith(":") or alone.question or not alone.given:
        return text
    joined = f"{text}; {line.strip()[:_LOOKED_AT]}"
    if denies_its_row(joined, context, given=True) or speaks_of_another(joined, context):
        return joined
    read = read_amount(joined, sources, words)
    if not read.question:
        return text
    half_known = any(one.grams is not None for one in read.given)
    return f"{joined} ?" if half_known else joined  # nobody knows any of it: '3 tablets', 'of which 2 eaten'
