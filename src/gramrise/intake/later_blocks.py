"""What begins only in a later block of a large table: a kind, a unit, a state or a column that no row above it has."""

import polars as pl

from gramrise.connectors.layout import Layout, Part
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence
from gramrise.intake.files import ROW, TextTable
from gramrise.intake.layouts import MOST_EXAMPLES, check_table, draft_of, number_columns, proved_layout
from gramrise.intake.problems import FileWaits

_ROWS_OF_A_TEXT = 500  # rows of each text not met before that are judged with the first block: enough for its spacing


class LaterBlocks:
    """The layout proved by the first block of a table, held against each block that follows.

    A text that a column of few texts has not held before is judged together with the first block. Where that only
    adds to the layout (rows of another kind, a column that was empty), the addition counts from that block on; where
    it would have changed how the rows above are read, the file waits.
    """

    def __init__(
        self, first: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext
    ) -> None:
        self.first, self.layouts, self.layout_name, self.context = first, layouts, layout_name, context
        self.layout = proved_layout(first, layouts, layout_name, context)
        self._known = self._texts_known()

    def _texts_known(self) -> dict[str, set[str]]:
        """The texts of each column that is neither a time, nor a number that is read, nor free text."""
        clock = self.layout.clock
        assert clock is not None  # only layouts of tables are proved
        read = {self.first.column(name) for part in self.layout.brings for name in number_columns(part)}
        read |= {self.first.column(name) for name in clock.columns}
        found = {}
        for at in range(self.first.width):
            texts = _texts(self.first, str(at)) if str(at) not in read else None
            if texts is not None and texts.len() <= MOST_EXAMPLES:
                found[str(at)] = set(texts.to_list())
        return found

    def layout_for(self, table: TextTable) -> Layout:
        """The layout of a later block. Raises FileWaits where what begins in it leaves open what it is."""
        novel = {
            at: fresh
            for at, known in self._known.items()
            if at in table.cells.columns and (fresh := set(_texts(table, at).to_list()) - known)
        }
        if not novel:
            return self.layout
        begun = table.cells.filter(
            pl.any_horizontal(
                _cell(at).is_in(list(texts)) & (pl.int_range(pl.len()).over(_cell(at)) < _ROWS_OF_A_TEXT)
                for at, texts in novel.items()
            )
        )
        judged = self.first.with_cells(pl.concat([self.first.cells, begun.select(self.first.cells.columns)]))
        layout = proved_layout(judged, self.layouts, self.layout_name, self.context)
        if not _adds_to(layout, self.layout):
            raise self._changed(begun, novel, layout)
        for at, texts in novel.items():
            self._known[at] |= texts
        self._known = {at: texts for at, texts in self._known.items() if len(texts) <= MOST_EXAMPLES}
        self.layout = layout
        return layout

    def check(self, table: TextTable) -> None:
        """Raises FileWaits where a block as a whole contradicts the layout: to be asked where rows of it are bad."""
        evidence = Evidence()
        check_table(table, self.layout, self.context, evidence)
        if evidence.open:
            raise evidence.open[0].waits(table.file, draft_of(self.layout))

    def _changed(self, begun: pl.DataFrame, novel: dict[str, set[str]], layout: Layout) -> FileWaits:
        at, texts = next(iter(novel.items()))
        text = min(texts)
        row = begun.filter(_cell(at) == text)[ROW].min()
        return FileWaits(
            "rows_change", self.first.file,
            f"row {row} holds '{text[:40]}' under '{self.first.label(at)}', which no row far above it does, and with "
            "it the rows above would be read otherwise",
            "cut the file in two above that row, each part with its header",
            draft=draft_of(layout),
        )  # fmt: skip


def _cell(at: str) -> pl.Expr:
    return pl.col(at).fill_null("").str.strip_chars()


def _texts(table: TextTable, at: str) -> pl.Series:
    """The different filled texts of a column."""
    different = table.cells[at].unique()
    texts = different.fill_null("").str.strip_chars().unique()
    return texts.filter(texts != "")


def _adds_to(layout: Layout, before: Layout) -> bool:
    """Whether a layout reads the rows of the one before as that one did."""
    if (layout.clock, layout.file, layout.person_column) != (before.clock, before.file, before.person_column):
        return False
    return all(any(_same(part, fresh) for fresh in layout.brings) for part in before.brings)


def _same(part: Part, fresh: Part) -> bool:
    """Whether two parts are one, the fresh one for further words perhaps."""
    if part.kind != fresh.kind or part.model_copy(update={"when": None}) != fresh.model_copy(update={"when": None}):
        return False
    if part.when is None or fresh.when is None:
        return part.when == fresh.when
    return part.when.column == fresh.when.column and set(part.when.words) <= set(fresh.when.words)
