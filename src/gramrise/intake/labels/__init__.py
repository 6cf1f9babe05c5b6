"""What the words and units of a header cell, a kind word, or a title say; and the zone a table states."""

from gramrise.intake.labels.label_words import Label, read_label, unit_of_cell, unknown_words
from gramrise.intake.labels.persons_named import (
    Named,
    days_written,
    is_birth_label,
    name_below,
    named_in_line,
    own_words,
    person_named,
    relative_named,
    share_a_word,
    shares_a_word,
)
from gramrise.intake.labels.quantities import AMOUNT, GLUCOSE, MEASURED, NOTE, NOTHING, UNKNOWN, VALUE, quantity_of
from gramrise.intake.labels.titles import long_in_titles, never_happened, of_another, titled_quantities
from gramrise.intake.labels.zones import PERSONS, holds_zones, speaks_of_zone, stated_zone, zone_of_text

__all__ = [
    "AMOUNT",
    "GLUCOSE",
    "MEASURED",
    "NOTE",
    "NOTHING",
    "PERSONS",
    "UNKNOWN",
    "VALUE",
    "Label",
    "Named",
    "days_written",
    "holds_zones",
    "is_birth_label",
    "long_in_titles",
    "name_below",
    "named_in_line",
    "never_happened",
    "of_another",
    "own_words",
    "person_named",
    "quantity_of",
    "read_label",
    "relative_named",
    "share_a_word",
    "shares_a_word",
    "speaks_of_zone",
    "stated_zone",
    "titled_quantities",
    "unit_of_cell",
    "unknown_words",
    "zone_of_text",
]
