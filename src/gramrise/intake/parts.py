"""The parts of a file that can hold tables: itself, or what is packed in it."""

from dataclasses import dataclass
from pathlib import Path

from gramrise.intake.encodings import decoded
from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings


@dataclass(frozen=True, slots=True)
class Part:
    """Text (or a sheet's cells) with a name for people; `data` is what its content hash is made of."""

    name: str
    data: bytes
    text: str | None = None
    rows: tuple[tuple[str, ...], ...] | None = None  # a sheet


def parts_of(path: Path, settings: IntakeSettings) -> list[Part]:
    """What a file holds. Raises FileRefused beyond the bounds."""
    size = path.stat().st_size
    if size > settings.most_small_file_bytes:
        raise FileRefused("file_too_large", path.name, f"it has {size} bytes", "cut it into smaller files")
    data = path.read_bytes()
    return [Part(path.name, data, decoded(data, path.name))]
