"""The members of a file that can hold tables: itself, or the files packed in it. The unpacked size is bounded."""

import gzip
import io
import re
import zipfile
import zlib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from gramrise.domain.printable import printable
from gramrise.intake.files import encodings
from gramrise.intake.files.encodings import decoded
from gramrise.intake.files.json_tables import looks_like_json
from gramrise.intake.files.other_kinds import other_kind_of
from gramrise.intake.files.sheets import sheets_of
from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings

_GZIP, _ZIP = b"\x1f\x8b", b"PK\x03\x04"
_EMPTY_ZIP = b"PK\x05\x06"
_OLD_SHEET = b"\xd0\xcf\x11\xe0"
_CHUNK = 1 << 20
# What every program packs a zip with. The others unpack to hundreds of megabytes in one step of the library.
READ_METHODS = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})
# Names of packed files and workbooks. Some programs call a plain text so.
_PACKED_NAMES = (
    ".gz", ".tgz", ".zip", ".tar", ".bz2", ".xz", ".7z", ".rar", ".xlsx", ".xlsm", ".xls", ".ods", ".docx", ".odt"
)  # fmt: skip
_NO_TEXT = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f]")
_MOST_LETTERS = 120  # of a member's name that are shown; our choice
HIDDEN = "the sheet is hidden in its workbook"


@dataclass(frozen=True, slots=True)
class FileMember:
    """Text, or a sheet's cells with their row numbers; `data` is what its content hash is made of.

    passed_over  why it is not read, in words; '' where it is
    """

    name: str
    data: bytes
    text: str | None = None
    rows: tuple[tuple[str, ...], ...] | None = None
    passed_over: str = ""


def needs_own_process(path: Path) -> bool:
    """Whether reading a file may cost far more memory than it has bytes, or crash its reader: packed ones and JSON."""
    with path.open("rb") as opened:
        head = opened.read(encodings.HEAD)
    if head.startswith((_GZIP, _ZIP, _OLD_SHEET)):
        return True
    text = head.decode(encodings.encoding_of(head)[0], "replace").lstrip()
    return looks_like_json(text)


def unpack(path: Path, settings: IntakeSettings, encoding: str = "auto") -> list[FileMember]:
    """What a file holds. Raises FileRefused beyond the bounds, for broken or encrypted packing, and for no text."""
    size = path.stat().st_size
    if size == 0:
        raise FileRefused("file_empty", printable(path.name), "it is empty", "export it again")
    if size > settings.most_small_file_bytes:
        raise FileRefused(
            "file_too_large",
            printable(path.name),
            f"it has {size} bytes, and is no plain table that can be read piece by piece",
            "cut it into smaller files",
        )
    return _parts(printable(path.name), path.read_bytes(), settings, encoding)


def _parts(name: str, data: bytes, settings: IntakeSettings, encoding: str) -> list[FileMember]:
    if data.startswith(_GZIP):
        data = _gunzipped(name, data, settings)
        if data.startswith((_GZIP, _ZIP)):
            raise _packed_twice(name)
        name = name.removesuffix(".gz")
    if data.startswith(_EMPTY_ZIP):
        raise FileRefused("file_empty", name, "it is an archive with nothing in it", "pack it again")
    if data.startswith(_ZIP):
        return _unzipped(name, data, settings, encoding)
    if data.startswith(_OLD_SHEET):
        raise FileRefused("old_workbook", name, "it is a workbook of the old kind", "save it as xlsx or CSV")
    _check_kind(name, data)
    _check_named(name, data)
    return [FileMember(name, data, decoded(data, name, encoding))]


def _check_named(name: str, data: bytes) -> None:
    """Raises FileRefused for a file that is named as a packed one, does not begin as one, and is no text either."""
    head = data[: encodings.HEAD]
    if (
        name.casefold().endswith(_PACKED_NAMES)
        and encodings.encoding_of(head)[0] in {"utf-8", "cp1252"}
        and _NO_TEXT.search(head)
    ):
        raise FileRefused(
            "packing_broken",
            name,
            "it is named as a packed file or a workbook, and does not begin as one: it is damaged, or none",
            "copy or fetch it again",
        )


def _check_kind(name: str, data: bytes) -> None:
    """Raises FileRefused for photos, documents and other packing, with what to do instead."""
    other = other_kind_of(data)
    if other is not None:
        raise FileRefused("not_text", name, f"it is {other[0]}, not a table", other[1])


def _gunzipped(name: str, data: bytes, settings: IntakeSettings) -> bytes:
    most = _most_unpacked(len(data), settings)
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
            plain = packed.read(most + 1)
    except (OSError, EOFError, zlib.error) as problem:
        raise FileRefused("packing_broken", name, "its packing is broken or cut off", "fetch it again") from problem
    if len(plain) > most:
        raise _bomb(name)
    return plain


def _most_unpacked(size: int, settings: IntakeSettings) -> int:
    return int(min(settings.most_small_file_bytes, max(_CHUNK, size * settings.most_unpacked_ratio)))


def _unzipped(name: str, data: bytes, settings: IntakeSettings, encoding: str) -> list[FileMember]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = [member for member in archive.infolist() if not member.is_dir()]
    except MemoryError:
        raise
    except Exception as problem:
        raise FileRefused("packing_broken", name, "its packing is broken or cut off", "fetch it again") from problem
    with archive:
        if len(members) > settings.most_archive_members:
            raise FileRefused(
                "too_many_members", name, f"it holds more than {settings.most_archive_members} files", "pack fewer"
            )
        for member in members:
            _check_name(name, member.filename)
        _check_once(name, [member.filename for member in members])
        contents = _members(name, archive, members, _most_unpacked(len(data), settings))
    if "xl/workbook.xml" in contents:
        return [
            FileMember(f"{name}: {_shown(sheet)}", data, rows=rows, passed_over="" if rows is not None else HIDDEN)
            for sheet, rows in sheets_of(name, data, contents, settings)
        ]
    if contents.get("mimetype", b"").startswith(b"application/vnd.oasis"):
        raise FileRefused(
            "not_text", name, "it is a sheet or text of an office program (ods, odt)", "save it as xlsx or CSV"
        )
    if "word/document.xml" in contents:
        raise FileRefused("not_text", name, "it is a text document (docx)", "save its table as CSV, or its text as txt")
    parts = []
    for packed, content in contents.items():
        inner = _shown(packed)
        if content.startswith((_GZIP, _ZIP)):
            raise _packed_twice(f"{name}: {inner}")
        if not PurePosixPath(inner).name.startswith(".") and not inner.startswith("__"):
            _check_kind(f"{name}: {inner}", content)
            parts.append(FileMember(f"{name}: {inner}", content, decoded(content, f"{name}: {inner}", encoding)))
    return parts


def _shown(name: str) -> str:
    """A member's name as it is printed: of a very long one its beginning and its end."""
    whole = printable(name)
    half = _MOST_LETTERS // 2
    return whole if len(whole) <= _MOST_LETTERS else f"{whole[:half]}...{whole[-half:]}"


def _members(name: str, archive: zipfile.ZipFile, members: list[zipfile.ZipInfo], most: int) -> dict[str, bytes]:
    """What each member really holds, whatever its header claims, up to a bound for all together."""
    contents: dict[str, bytes] = {}
    left = most
    for member in members:
        if member.flag_bits & 1:
            raise FileRefused(
                "encrypted", name, f"'{printable(member.filename[:80])}' is locked with a password", "unlock it first"
            )
        if member.compress_type not in READ_METHODS:
            raise FileRefused(
                "packing_other",
                name,
                f"'{printable(member.filename[:80])}' is packed in a way that is not read here",
                "unpack it first, or pack it as zip or gzip",
            )
        try:
            with archive.open(member) as opened:
                contents[member.filename] = opened.read(left + 1)
        except MemoryError:
            raise
        except Exception as problem:
            raise FileRefused(
                "packing_broken", name, f"'{printable(member.filename[:80])}' is broken", "fetch it again"
            ) from problem
        left -= len(contents[member.filename])
        if left < 0:
            raise _bomb(name)
    return contents


def _check_name(archive: str, member: str) -> None:
    """Refuses an archive with a member that would be unpacked outside its folder."""
    path = PurePosixPath(member.replace("\\", "/"))
    if path.is_absolute() or ".." in path.parts or re.match(r"[A-Za-z]:", member) or "\x00" in member:
        raise FileRefused(
            "path_trick",
            archive,
            f"it holds a file that names a place outside it: '{printable(member[:80])}'",
            "do not trust it",
        )


def _check_once(archive: str, members: list[str]) -> None:
    """Refuses an archive with two members of one name: only one of them could be told from the other's rows."""
    for member in {each for each, times in Counter(members).items() if times > 1}:
        raise FileRefused(
            "member_twice",
            archive,
            f"it holds two files of the name '{printable(member[:80])}'",
            "unpack it, and bring each file by itself",
        )


def _bomb(name: str) -> FileRefused:
    return FileRefused(
        "unpacks_too_large", name, "it unpacks to far more than a table of entries", "unpack and look at it"
    )


def _packed_twice(name: str) -> FileRefused:
    return FileRefused("packed_twice", name, "it is packed within a packed file", "unpack the outer one first")
