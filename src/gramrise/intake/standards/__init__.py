"""Files of open standards: recognised as such, read by the connectors, each record to its own person's rows."""

from gramrise.intake.standards.files import is_standard_layout, standard_of
from gramrise.intake.standards.line_files import is_line_file, line_file_batches
from gramrise.intake.standards.text_batches import member_batches, seen_in_member

__all__ = [
    "is_line_file",
    "is_standard_layout",
    "line_file_batches",
    "member_batches",
    "seen_in_member",
    "standard_of",
]
