"""What a band's number lacks to be the person's own, as it is kept in the views of report and card."""

from pydantic import BaseModel, ConfigDict

from gramrise.estimate import BandState


class LackView(BaseModel):
    """One lack: key `on_card.lacks.*` of the words files; `count` more, 0 where none is counted."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    code: str
    count: int


def lack_views(state: BandState) -> tuple[LackView, ...]:
    return tuple(LackView(code=lack.code, count=lack.count) for lack in state.lacks)
