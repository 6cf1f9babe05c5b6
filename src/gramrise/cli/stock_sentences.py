"""What `gramrise stock` says of one source."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from gramrise.supplies import StockLine


def stock_sentence(line: "StockLine") -> str:
    """'candy: about 45 pieces on hand, 3.2 a day, lasts until 2026-12-12. Buy by 2026-12-05.'"""
    from gramrise.supplies import StockState

    unit = "mL" if line.unit == "mL" else "pieces"
    act = "Mix" if line.home_mixed else "Buy"
    use = "" if line.per_day is None else f", {line.per_day:.1f} {unit} a day"
    if line.state is StockState.NOT_COUNTED:
        how = "mixed with gramrise mix" if line.home_mixed else f"counted: gramrise stock '{line.source}' --on-hand N"
        return f"{line.source}: not known what is on hand{use}; it is known once it is {how}."
    if line.state is StockState.COUNT_AGAIN:
        return f"{line.source}: more was taken than was there; count again: gramrise stock '{line.source}' --on-hand N."
    told = f"{line.source}: about {line.on_hand:.0f} {unit} on hand{use}{_until(line.lasts_until)}{_days(line.use_by)}."
    if line.state is StockState.PAST_ITS_DAYS:
        return told + " It is past its days: pour it away and mix anew."
    if line.state is StockState.ACT and line.act_by is not None:
        return told + f" {act} by {line.act_by.isoformat()}."
    return told


def _until(day: "date | None") -> str:
    return "" if day is None else f", lasts until {day.isoformat()}"


def _days(use_by: "date | None") -> str:
    return "" if use_by is None else f", use by {use_by.isoformat()}"
