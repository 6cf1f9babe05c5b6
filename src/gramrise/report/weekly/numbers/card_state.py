"""What the weekly report and `card --list` say about the cards that are out."""

from datetime import date

from pydantic import BaseModel, ConfigDict


class CardState(BaseModel):
    """A numbered card and whether it still holds; `void_because` lists codes, keys `card_line.because.*`."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: int
    source: str = ""  # the glucose it is for; '' where it is not told
    for_school: bool = False
    made_on: date
    valid_until: date
    void_because: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        return not self.void_because
