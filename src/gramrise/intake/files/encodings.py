"""Bytes to text by proof: a byte-order mark, the pattern of UTF-16, strict UTF-8, else cp1252."""

from gramrise.intake.problems import FileRefused

_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
HEAD = 8192
# Our choice: more zero bytes than in a few rows are no text.
_MOST_ZEROS = 0.02


def encoding_of(data: bytes) -> tuple[str, str]:
    """The encoding of a file's bytes, and the evidence in words. `data` may be the whole file or its head."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name, "its first bytes are a byte-order mark"
    head = data[:HEAD]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if len(head) >= 4 and max(even, odd) > 0.4 * len(head) / 2 and min(even, odd) < 0.05 * len(head):
        return ("utf-16-le" if odd > even else "utf-16-be"), "every second byte is zero"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as problem:
        if problem.start >= len(data) - 3 and problem.reason == "unexpected end of data":
            return "utf-8", "its bytes are valid UTF-8"
        return "cp1252", "its bytes are not UTF-8; cp1252 is what single-byte files of these languages are in"
    return "utf-8", "its bytes are valid UTF-8"


def decoded(data: bytes, file: str, encoding: str = "auto") -> str:
    """The text of a file, line ends made one. Raises FileRefused where bytes are no text."""
    name = encoding_of(data)[0] if encoding == "auto" else encoding
    try:
        text = data.decode(name)
    except LookupError as problem:
        raise FileRefused("encoding_unknown", file, f"no encoding is called '{name}'", "name another") from problem
    except UnicodeDecodeError as problem:
        if name != "cp1252":
            raise _no_text(file, name) from problem
        text = data.decode("latin-1")  # the five bytes cp1252 leaves open become control characters
    # The rest of a block that was never written: what stands before it may be half a row.
    if text.endswith("\x00") and text.strip("\x00"):
        text = text.rstrip("\x00") + "\ufffd"
    zeros = text.count("\x00")
    if zeros > _MOST_ZEROS * len(text):
        raise FileRefused(
            "not_text",
            file,
            f"{zeros} of its {len(text)} characters are zero bytes, as where a file was not written whole",
            "export or copy it again",
        )
    if zeros:  # what a machine that stopped while it wrote leaves behind: such a row is set aside, or its note marked
        text = text.replace("\x00", "\ufffd")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _no_text(file: str, name: str) -> FileRefused:
    return FileRefused(
        "not_text",
        file,
        f"its bytes are no text in {name}",
        "export it again as CSV in UTF-8, or name its encoding in a layout",
    )
