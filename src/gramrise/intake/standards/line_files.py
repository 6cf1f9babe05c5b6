"""Large files of a record a line, in blocks: memory is bounded by the block, however long the file is."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from gramrise.connectors.fhir import FileReferences
from gramrise.connectors.standards import newest_versions
from gramrise.connectors.standards.strict_json import NotStrictJson, whole_object
from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.intake.context import ReadContext
from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.standards.files import Standard, read_lines, standard_of
from gramrise.intake.standards.owners import Owners
from gramrise.intake.standards.text_batches import batches_of, owners_of

_LOOKED_AT_LINES = 20
# A record takes some four times the memory of a table's rows of the same bytes. Our choice: a quarter of a block.
_PARTS_OF_A_BLOCK = 4
_BOM = b"\xef\xbb\xbf"


def is_line_file(path: Path, settings: IntakeSettings, layout_name: str | None) -> Standard | None:
    """The standard of a file that holds one record a line; None for any other. Only its first lines are read."""
    most = settings.most_line_bytes
    with path.open("rb") as opened:
        for _ in range(_LOOKED_AT_LINES):
            line = opened.readline(most + 1)
            if not line or len(line) > most:
                return None
            try:
                text = line.removeprefix(_BOM).decode("utf-8")
                whole_object(text)
            except (UnicodeDecodeError, NotStrictJson):
                continue
            return standard_of(text, layout_name)
    return None


def line_file_batches(
    path: Path, standard: Standard, context: ReadContext, household: tuple[Person, ...]
) -> Iterator[Batch]:
    """The batches of the file, block by block, one a person and block. Raises FileWaits, FileRefused."""
    references = FileReferences()
    owners = owners_of(path.name, context, household, references)
    for data, first_row in _blocks(path, context.settings):
        yield from _block_batches(data, first_row, standard, owners, references, context)
    owners.check_whole()


def _block_batches(
    data: bytes, first_row: int, standard: Standard, owners: Owners, references: FileReferences, context: ReadContext
) -> list[Batch]:
    """The batches of one block; its records are let go before the next one is read."""
    lines = ((first_row + at, _decoded(line)) for at, line in enumerate(data.split(b"\n")))
    records = read_lines(lines, standard, references)
    newest_versions(records)
    digest = hashlib.sha256(data).hexdigest()
    return batches_of(records, standard, owners, context, digest) if records else []


def _decoded(line: bytes) -> str:
    """A line as text; what is no UTF-8 becomes no JSON, and so one bad line."""
    return line.removeprefix(_BOM).decode("utf-8", "surrogateescape").rstrip("\r")


def _blocks(path: Path, settings: IntakeSettings) -> Iterator[tuple[bytes, int]]:
    """Whole lines and the first one's number."""
    row, rest = 1, b""
    with path.open("rb") as opened:
        while block := opened.read(settings.block_bytes // _PARTS_OF_A_BLOCK):
            data = rest + block
            cut = data.rfind(b"\n") + 1
            if cut == 0 and len(data) > settings.most_line_bytes:
                raise FileRefused("line_too_long", path.name, f"row {row} has no end", "export one record a line")
            rest = data[cut:]
            if cut:
                yield data[:cut], row
                row += data.count(b"\n", 0, cut)
        if rest.strip():
            yield rest, row
