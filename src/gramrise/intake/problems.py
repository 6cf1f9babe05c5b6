"""Trouble with a file as a whole: it waits for a word from its owner, or it is refused."""

from typing import Any

from gramrise.domain.problems import GramriseError, with_mend


class FileTrouble(GramriseError):
    """Nothing of the file was taken in. `mend` says what to add or change. A command ends with 1: something waits."""

    exit_status = 1

    def __init__(self, code: str, file: str, what: str, mend: str) -> None:
        super().__init__(f"{file}: {with_mend(what, mend)}")
        self.code, self.file, self.what, self.mend = code, file, what, mend

    def __reduce__(self) -> tuple[Any, ...]:
        """It comes whole out of the process that read the file."""
        return _restored, (type(self), str(self), vars(self))


def _restored(kind: type[FileTrouble], told: str, fields: dict[str, Any]) -> FileTrouble:
    trouble = kind.__new__(kind, told)
    vars(trouble).update(fields)
    return trouble


class FileWaits(FileTrouble):
    """The file can be read in several ways, or a proof is missing. Nothing was guessed.

    `readings` are the readings still possible, in words; `lines` the layout lines to add, one for each of them;
    `draft` a layout in TOML with what is proved, to be completed by one of the lines.
    """

    def __init__(
        self,
        code: str,
        file: str,
        what: str,
        mend: str,
        readings: tuple[str, ...] = (),
        lines: tuple[str, ...] = (),
        draft: str = "",
    ) -> None:
        # By night only the sentence is shown: it must lead to the lines.
        shown = "; 'gramrise layouts FILE' shows the lines to add, in a whole layout" if draft else ""
        super().__init__(code, file, what, mend + shown)
        self.readings, self.lines, self.draft = readings, lines, draft


class FileRefused(FileTrouble):
    """The file cannot be read within safe bounds, or not at all."""


def unreadable(file: str, place: str) -> FileRefused:
    """For a file that its reader fails on in a way nobody foresaw; `place` is kind and place of the fault, no value."""
    return FileRefused(
        "reading_failed",
        file,
        f"reading it failed ({place}); nothing of it was taken in",
        "save it again, or as CSV; where that fails too, report this sentence",
    )
