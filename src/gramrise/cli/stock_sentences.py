"""What `gramrise stock` says of one source."""

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from datetime import date

    from gramrise.place import WeakGlucose
    from gramrise.supplies import StockLine

ALL_THERE_IS: Final = (
    "On hand is all there is of a source, tins and bags included; what is gone from one tin: gramrise counts."
)
# Words of what may be the matter, by the codes of the place room.
CAUSES: Final = {
    "monohydrate": "is the powder or label monohydrate, which holds 9 % less",
    "overfilled": "was more water filled in than the recipe says",
    "old": "is it old or spoiled",
    "label": "was the label read rightly, grams of glucose for each piece",
}


def weak_sentence(weak: "WeakGlucose") -> str:
    """'bottle: 1 g of it seems to raise 62 % of what 1 g of the other glucose raises ...'"""
    from gramrise.place import chance

    name = weak.source if weak.batch is None else f"{weak.source}, batch {weak.batch}"
    return (
        f"{name}: 1 g of it seems to raise {weak.ratio:.0%} of what 1 g of the other glucose raises (likely "
        f"{weak.low_ratio:.0%} to {weak.high_ratio:.0%}, from {weak.uses} uses; likelihood that it is weaker "
        f"{chance(weak.probability_weak)}). To check: {', or '.join(CAUSES[str(cause)] for cause in weak.causes)}?"
    )


def stock_sentence(line: "StockLine") -> str:
    """'candy: about 45 pieces on hand, 3.2 a day, lasts until 2026-12-12. Buy by 2026-12-05.'"""
    from gramrise.supplies import StockState

    unit = "mL" if line.unit == "mL" else "pieces"
    act = "Mix" if line.home_mixed else "Buy"
    use = "" if line.per_day is None else f", {line.per_day:.1f} {unit} a day"
    if line.state is StockState.NOT_COUNTED:
        counted = f"counted, tins and bags included: gramrise stock '{line.source}' --on-hand N"
        how = "mixed with gramrise mix" if line.home_mixed else counted
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
