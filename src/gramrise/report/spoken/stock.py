"""What is said of the stock of one source, in a person's language."""

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from gramrise.place import WeakGlucose
    from gramrise.report.screens import ScreenWords
    from gramrise.report.words import Words
    from gramrise.supplies import StockLine

ENGLISH: Final = "en"


def stock_sentence(line: "StockLine", words: "ScreenWords | None" = None) -> str:
    """'candy: about 45 pieces on hand, 3.2 pieces a day, lasts until 12 Dec 2026. Buy by 05 Dec 2026.'"""
    from gramrise.report.screens import screen_words
    from gramrise.supplies import StockState

    words = words or screen_words(ENGLISH)
    unit = words.say(f"stock.{line.unit}")
    use = "" if line.per_day is None else words.say("stock.use", amount=f"{words.number(line.per_day, 1)} {unit}")
    if line.state is StockState.NOT_COUNTED:
        return words.say("stock.not_mixed" if line.home_mixed else "stock.not_counted", source=line.source, use=use)
    if line.state is StockState.COUNT_AGAIN or line.on_hand is None:
        return words.say("stock.count_again", source=line.source)
    until = "" if line.lasts_until is None else words.say("stock.until", day=words.day(line.lasts_until))
    days = "" if line.use_by is None else words.say("stock.days", day=words.day(line.use_by))
    amount = f"{words.number(line.on_hand)} {unit}"
    told = words.say("stock.on_hand", source=line.source, amount=amount, use=use, until=until, days=days)
    if line.state is StockState.PAST_ITS_DAYS:
        return f"{told} {words.say('stock.past')}"
    if line.state is StockState.ACT and line.act_by is not None:
        act = words.say("stock.mix" if line.home_mixed else "stock.buy", day=words.day(line.act_by))
        return f"{told} {act}"
    return told


def weak_sentence(weak: "WeakGlucose", words: "Words") -> str:
    """The weekly report's sentence about a source or bottle whose glucose works less: both say the same."""
    name = weak.source if weak.batch is None else f"{weak.source} ({weak.batch})"
    shares = {"share": weak.ratio, "low": weak.low_ratio, "high": weak.high_ratio}
    return words.say(
        "weak.found",
        name=name,
        count=weak.uses,
        chance=words.chance(weak.probability_weak),
        causes=words.say("weak.or").join(words.say(f"weak.cause.{cause}") for cause in weak.causes),
        **{key: words.percent(share) for key, share in shares.items()},
    )
