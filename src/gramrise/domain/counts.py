"""Counts: of a container, pieces put in and left between two instants; and of what is on hand at home."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from gramrise.domain.problems import WrongUse


@dataclass(frozen=True, slots=True)
class ContainerCount:
    """What a count says: so many pieces are gone from the container. Never that they were eaten, or by whom."""

    person_id: str
    container: str
    source: str
    from_utc: datetime
    to_utc: datetime
    pieces_filled: int
    pieces_left: int

    def __post_init__(self) -> None:
        if not self.from_utc < self.to_utc:
            raise WrongUse("a count ends after it begins", "give --from and --to in this order")
        if self.pieces_filled < 0 or self.pieces_left < 0:
            raise WrongUse("pieces cannot be below zero", "count what is in the container")
        if self.pieces_left > self.pieces_filled:
            raise WrongUse(
                f"{self.pieces_left} pieces are left of {self.pieces_filled}",
                "it was refilled in between: count before and after the refill, each with its own --from and --to",
                "more_left_than_filled",
            )

    @property
    def pieces_gone(self) -> int:
        return self.pieces_filled - self.pieces_left


@dataclass(frozen=True, slots=True)
class NotedCount:
    """What a note says is left in a container that was counted before; what was put in is known from then."""

    container: str
    counted_at_utc: datetime
    pieces_left: int

    def after(self, last: ContainerCount) -> ContainerCount:
        """The count since the last one of the same container. Raises WrongUse where more is left than was."""
        return ContainerCount(
            last.person_id,
            self.container,
            last.source,
            last.to_utc,
            self.counted_at_utc,
            last.pieces_left,
            self.pieces_left,
        )


# Our choice, pieces or mL: years of glucose; more is a slip of the pen.
MOST_ON_HAND: Final = 100_000


@dataclass(frozen=True, slots=True)
class StockCount:
    """What the family counted of a source at home: pieces, or mL."""

    source: str
    counted_at_utc: datetime
    amount: float

    def __post_init__(self) -> None:
        if not self.amount >= 0:
            raise WrongUse("what is on hand cannot be below zero", "count pieces, or mL of a liquid")
        if self.amount > MOST_ON_HAND:
            raise WrongUse("nobody has so much at home", "look at the number: pieces, or mL of a liquid")


_MANY_TIMES: Final = 5  # our choice: a nought too many is ten times, a big shopping seldom five
_LEAST_BEFORE: Final = 10.0  # from few pieces to a full cupboard is no slip


def refuse_stock_slip(on_hand: float, before: float | None) -> None:
    """Raises WrongUse for a count many times as large as what was on hand before: most often a digit too many."""
    if before is not None and before >= _LEAST_BEFORE and on_hand > _MANY_TIMES * before:
        raise WrongUse(
            f"{on_hand:g} is {on_hand / before:.0f} times as much as was on hand before ({before:g})",
            "count again; where so much was bought, add --meant",
        )
