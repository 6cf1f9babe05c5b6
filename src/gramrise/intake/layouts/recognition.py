"""The layout of a table: one at hand that fits, or what the table itself proves, with its open entries resolved."""

from gramrise.connectors.layout import Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.container_counts import refuse_counts
from gramrise.intake.layouts.drafting import draft_of
from gramrise.intake.layouts.inference import infer_layout
from gramrise.intake.layouts.matching import known_layout
from gramrise.intake.layouts.resolving import resolve_layout


def recognise_layout(
    table: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext, evidence: Evidence
) -> Layout:
    """The layout of a table; what stays open is in `evidence.open`. Raises FileWaits where no draft can be made."""
    layout = known_layout(table, layouts, layout_name, context, evidence)
    if layout is None:
        refuse_counts(table, context)
        layout = infer_layout(table, context, evidence)
    return resolve_layout(table, layout, context, evidence)


def proved_layout(
    table: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext
) -> Layout:
    """The layout of a table, nothing of it open. Raises FileWaits where something is."""
    evidence = Evidence()
    layout = recognise_layout(table, layouts, layout_name, context, evidence)
    if evidence.open:
        raise evidence.open[0].waits(table.file, draft_of(layout))
    return layout
