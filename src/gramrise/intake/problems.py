"""Trouble with a file as a whole: it waits for a word from its owner, or it is refused."""

from gramrise.domain.problems import GramriseError


class FileTrouble(GramriseError):
    """Nothing of the file was taken in. `mend` says what to add or change. A command ends with 1: something waits."""

    exit_status = 1

    def __init__(self, code: str, file: str, what: str, mend: str) -> None:
        super().__init__(f"{file}: {what}. To mend: {mend}.")
        self.code, self.file, self.what, self.mend = code, file, what, mend


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
