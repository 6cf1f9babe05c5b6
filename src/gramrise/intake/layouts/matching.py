"""Which of the layouts at hand a table is of: exactly one may fit by its header and the lines above it."""

from gramrise.connectors.layout import IN_HEADER, Food, Glucose, GlucoseGiven, Insulin, Layout, Part, Weight
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence
from gramrise.intake.files import TextTable
from gramrise.intake.labels import (
    long_in_titles,
    never_happened,
    of_another,
    read_label,
    titled_quantities,
    zone_of_text,
)
from gramrise.intake.layouts.units import glucose_unit_in
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import HeaderWords, folded, header_key


def known_layout(
    table: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext, evidence: Evidence
) -> Layout | None:
    """The layout at hand that is named, or the only one that fits; None where none fits.

    raises  FileWaits where the named one is not at hand, or several fit
    """
    if layout_name is not None:
        check_named(layout_name, layouts, table.file)
        return next(layout for layout in layouts if layout.name == layout_name)
    fitting = [layout for layout in layouts if fits(table, layout, context.words)]
    if len(fitting) > 1:
        names = tuple(layout.name for layout in fitting)
        raise FileWaits(
            "several_layouts", table.file, f"the layouts {' and '.join(names)} both fit", "name one with --layout",
            readings=names, lines=tuple(f"--layout {name}" for name in names),
        )  # fmt: skip
    if not fitting:
        return None
    evidence.prove(
        f"it is the layout '{fitting[0].name}'", "its header (and the lines above) are those the layout names"
    )
    return fitting[0]


def check_named(layout_name: str | None, layouts: tuple[Layout, ...], file: str) -> None:
    """Raises FileWaits where a layout is named that is not at hand."""
    if layout_name is not None and all(layout.name != layout_name for layout in layouts):
        known = ", ".join(layout.name for layout in layouts)
        raise FileWaits("layout_unknown", file, f"no layout is called '{layout_name}'", f"choose from {known}")


def fits(table: TextTable, layout: Layout, words: HeaderWords) -> bool:
    """Whether the table has everything by which the layout is recognised."""
    proof = layout.recognised_by
    if not proof.header:
        return False
    if any(_other_unit(table, part, words) for part in layout.brings):
        return False
    local = layout.clock is not None and layout.clock.zone == "person" and not proof.preamble
    if local and any(zone_of_text(line) is not None for line in table.preamble):
        return False  # its times may not be the person's own
    keys = [key for key in table.keys if key]
    if proof.only_these and (_unnamed_cells(table) or len(set(keys)) < len(keys)):
        return False
    if not proof.preamble and _titled_otherwise(table, layout, words):
        return False
    wanted = [header_key(cell) for cell in proof.header]
    above = " ".join(folded(line) for line in table.preamble)
    return (
        all(key in keys for key in wanted)
        and (not proof.only_these or set(keys) <= {*wanted, *(header_key(cell) for cell in proof.also)})
        and all(folded(text) in above for text in proof.preamble)
    )


_KINDS = {
    "readings": {"glucose", "sensor"}, "fingers": {"glucose", "finger"}, "doses": {"given"}, "insulin": {"insulin"},
    "food": {"food"}, "weights": {"weight"}, "activity": {"activity"},
}  # fmt: skip


def _unnamed_cells(table: TextTable) -> bool:
    """Whether a column without a word in its header holds anything: nothing says what."""
    return any(
        (table.cells[str(at)].fill_null("").str.strip_chars() != "").any()
        for at in range(min(table.width, len(table.header)))
        if not table.header[at].strip()
    )


def _titled_otherwise(table: TextTable, layout: Layout, words: HeaderWords) -> bool:
    """Whether a title above the table says that it holds something else, or that its rows never happened."""
    brought = set[str]().union(*(_KINDS.get(part.kind, set()) for part in layout.brings))
    if "insulin" in brought and long_in_titles(table, words):
        return True
    return bool(titled_quantities(table, words) - brought) or bool(
        never_happened(table, words) or of_another(table, words)
    )


def _other_unit(table: TextTable, part: Part, words: HeaderWords) -> bool:
    """Whether a header names another unit than the layout's: 'glucose (g)' is glucose given, mg/dL is not mmol/L.

    An amount of a source counts what the source is counted in: a unit in its header is for the reader of the header.
    """
    name, units = _column_and_units(part)
    label = next((cell for cell in table.header if name and header_key(cell) == header_key(name)), "")
    if isinstance(part, Glucose):
        said = glucose_unit_in(label, words)
        if said is not None and part.unit not in {IN_HEADER, said.value}:
            return True
    return bool(read_label(label, words).units - units)


def _column_and_units(part: Part) -> tuple[str, set[str]]:
    """The column of a part's numbers, and the units that its header may name."""
    if isinstance(part, Glucose):
        return part.value, {"mg_dl", "mmol_l"}
    if isinstance(part, Insulin):
        return part.units, {"insulin"}
    if isinstance(part, Food):
        return part.grams, {"gram"}
    if isinstance(part, Weight):
        return part.value, {"kg", "lb"} if part.unit == IN_HEADER else {part.unit}
    if isinstance(part, GlucoseGiven):
        return (part.grams, {"gram"}) if part.grams else (part.amount, set())
    return "", set()
