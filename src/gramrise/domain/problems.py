"""Kinds of trouble: each has a fixed code and typed fields, and says what, where and how to mend."""

import errno
import traceback
from dataclasses import dataclass
from typing import Final

from gramrise.domain.printable import printable


class GramriseError(Exception):
    """Every error that is meant to be read by a person. `code` is fixed; the text is built from the fields."""

    code: str = "trouble"


TO_MEND: Final = "To mend"


def with_mend(what: str, mend: str, to_mend: str = TO_MEND) -> str:
    """'what is wrong. To mend: how.', each with one mark at its end. `to_mend`: the same in another language."""
    return f"{_closed(what)} {to_mend}: {_closed(mend)}"


def _closed(sentence: str) -> str:
    return sentence if sentence.endswith((".", "?", "!")) else f"{sentence}."


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that is wrong with one place in one file; the text for people is `sentence`."""

    code: str
    file: str
    row: int | None  # the file's own line number, as a text editor shows it, from 1; None: the file as a whole
    column: str
    found: str
    what: str
    mend: str

    @property
    def sentence(self) -> str:
        where = printable(self.file)
        if self.row is not None:
            where += f" row {self.row}"
        if self.column:
            where += f", {printable(self.column)}"
        found = f"found '{printable(self.found)}'; " if self.found else ""
        return f"{where}: {found}{with_mend(self.what, self.mend)}"


class WrongUse(GramriseError):
    """A command, setting or argument that cannot be carried out; nothing was done. Exit status 2."""

    def __init__(self, what: str, mend: str, code: str = "wrong_use", to_mend: str = TO_MEND) -> None:
        super().__init__(with_mend(what, mend, to_mend))
        self.code, self.what, self.mend = code, what, mend


class CouldNotRun(GramriseError):
    """The surroundings do not allow the work (home unreadable, database old or broken). Exit status 3."""

    def __init__(self, what: str, mend: str, code: str = "could_not_run") -> None:
        super().__init__(with_mend(what, mend))
        self.code, self.what, self.mend = code, what, mend


def refused_by_disk(problem: OSError) -> CouldNotRun | None:
    """The trouble behind an operating system's refusal to write: no room, or a disk that may only be read."""
    if problem.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}:
        return CouldNotRun(
            "the disk is full: the step that did not fit was undone whole, what was saved before it stays",
            "make room on the disk, then run this again; where `df` shows room, `df -i` shows that it may hold no more "
            "files, and `quota` and `ulimit -f` that this user may write no more",
            "disk_full",
        )
    if problem.errno == errno.EROFS:
        return CouldNotRun(
            "the disk may only be read", "mount it for writing, or name a folder on another disk", "disk_read_only"
        )
    return None


def not_written(folder: str, problem: OSError) -> str:
    """Why nothing could be written into a folder of the home, which may lie on a disk of its own."""
    refused = refused_by_disk(problem)
    if refused is None:
        return f"the folder '{folder}' cannot be written ({type(problem).__name__})"
    full = refused.code == "disk_full"
    return (
        f"the disk of the folder '{folder}' is full" if full else f"the disk of the folder '{folder}' may only be read"
    )


class ColumnsMissing(GramriseError):
    """A frame entered a floor without the columns or types it promised: a fault of the program, not of the data."""

    code = "columns_missing"

    def __init__(self, frame: str, missing: list[str], wrong_type: list[str]) -> None:
        parts = []
        if missing:
            parts.append("missing " + ", ".join(missing))
        if wrong_type:
            parts.append("wrong type " + ", ".join(wrong_type))
        super().__init__(f"frame '{frame}': {'; '.join(parts)}")
        self.frame, self.missing, self.wrong_type = frame, missing, wrong_type


def place_of(error: BaseException) -> str:
    """Kind and place of an unexpected error, without its text: 'KeyError at rows.py:41', the last place of our own."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "gramrise" in frame.filename]
    last = next(reversed(ours or frames), None)
    where = f" at {last.filename.rsplit('/', 1)[-1]}:{last.lineno}" if last else ""
    return f"{type(error).__name__}{where}"
