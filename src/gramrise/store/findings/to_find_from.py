"""What a person's findings are computed from, handed over by the store."""

from dataclasses import dataclass

from gramrise.domain.findings import Inputs
from gramrise.domain.memo import Memo, ReadingsByDay


@dataclass(frozen=True, slots=True)
class ToFindFrom:
    """One view of a person's inputs, and the results remembered from earlier nights.

    inputs    without the readings
    readings  fetched when asked for
    version   the number that `save_findings` wants back
    """

    inputs: Inputs
    readings: ReadingsByDay
    version: int
    memo: Memo
