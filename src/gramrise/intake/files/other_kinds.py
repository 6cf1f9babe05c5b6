"""Files that are known by their first bytes and hold no table that can be read: what to do instead."""

_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF", "a PDF document", "export the table itself as CSV: a PDF keeps only how it looked"),
    (b"\x89PNG", "a picture", "type the entries as a note, one a line: 2026-03-14 02:10 3 pieces"),
    (b"\xff\xd8\xff", "a photo", "type the entries as a note, one a line: 2026-03-14 02:10 3 pieces"),
    (b"GIF8", "a picture", "type the entries as a note, one a line: 2026-03-14 02:10 3 pieces"),
    (b"BZh", "packed with bzip2", "unpack it first, or pack it as zip or gzip"),
    (b"\xfd7zXZ", "packed with xz", "unpack it first, or pack it as zip or gzip"),
    (b"7z\xbc\xaf", "packed with 7z", "unpack it first, or pack it as zip or gzip"),
    (b"Rar!", "packed with rar", "unpack it first, or pack it as zip or gzip"),
    (b"SQLite format 3", "a database", "export its table as CSV"),
    (b"PAR1", "a Parquet file", "export it as CSV"),
    (b"{\\rtf", "a text document", "save it as plain text, or its table as CSV"),
)
_HEIC = (b"ftypheic", b"ftypheix", b"ftypmif1")


def other_kind_of(data: bytes) -> tuple[str, str] | None:
    """What a file is and what to do about it, where its first bytes tell; None for anything that may hold a table."""
    for begins, what, mend in _KINDS:
        if data.startswith(begins):
            return what, mend
    if data[257:262] == b"ustar":
        return "a tar archive", "unpack it first, or pack it as zip"
    if data[4:12] in _HEIC:
        return "a photo", "type the entries as a note, one a line: 2026-03-14 02:10 3 pieces"
    head = data[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<!doctype html", b"<html")) or (head.startswith(b"<table")):
        return "a web page", "save the table itself as CSV, or open the page in a spreadsheet and save that as xlsx"
    if head.startswith(b"<?xml") or head.startswith(b"<"):
        return "an XML document", "export the table as CSV"
    return None
