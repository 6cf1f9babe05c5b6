"""A table of no known layout: what its own content proves."""

from gramrise.connectors.layout import Layout
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows import Circumstances
from gramrise.intake.table import Table


def proved_layout(table: Table, around: Circumstances) -> Layout:
    """The layout a table's content proves for this person. Raises FileWaits with what stays open."""
    person = around.person.person_id
    raise FileWaits("no_layout", table.file, f"no layout fits this table of {person}", "describe it in a layout")
