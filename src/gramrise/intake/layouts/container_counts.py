"""A table of container counts (pieces filled in, pieces left) holds no readings and no amounts given."""

from gramrise.intake.cells import LEFT_OVER
from gramrise.intake.context import ReadContext
from gramrise.intake.files import TextTable
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import folded, header_words


def refuse_counts(table: TextTable, context: ReadContext) -> None:
    """Raises FileWaits where the header counts what a container held and what is left in it."""
    words = context.words.amounts
    left = {folded(word) for kind in LEFT_OVER for word in words[kind]}
    filled = {folded(word) for word in words["count_filled"]}
    cells = [(cell.strip(), set(header_words(cell))) for cell in table.header]
    counts_filled = [cell for cell, said in cells if said & filled]
    counts_left = [cell for cell, said in cells if said & left and not said & filled]
    if counts_filled and counts_left:
        raise FileWaits(
            "container_counts",
            table.file,
            f"columns '{counts_filled[0]}' and '{counts_left[0]}' count what is in a container; that is neither a "
            "reading nor glucose given",
            "log what was given with its time; a count is never taken for an amount given",
            ("a count of a container",),
            ("no part for these columns",),
        )
