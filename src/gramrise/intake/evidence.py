"""What has been concluded about a table, with the proof, and what stays open."""

from dataclasses import dataclass, field

from gramrise.intake.problems import FileWaits


@dataclass(frozen=True, slots=True)
class Conclusion:
    """Something taken as proved, and the proof, both in words for people."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """A question to which several answers stay possible. `lines` are the layout lines, one for each of `readings`."""

    code: str
    what: str
    mend: str
    readings: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()

    def waits(self, file: str, draft: str = "") -> FileWaits:
        """The error with which a file of this open point waits."""
        return FileWaits(self.code, file, self.what, self.mend, self.readings, self.lines, draft)


@dataclass(slots=True)
class Evidence:
    """Conclusions and open points, gathered in the order in which they were met."""

    proved: list[Conclusion] = field(default_factory=list)
    open: list[OpenPoint] = field(default_factory=list)

    def prove(self, what: str, why: str) -> None:
        """Notes a conclusion and its proof."""
        self.proved.append(Conclusion(what, why))

    def account(self, label: str, read: bool, why: str) -> None:
        """Notes whether a column is read, and why."""
        self.prove(f"'{label}' is read" if read else f"'{label}' is passed over", why)
