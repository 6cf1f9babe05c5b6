"""The first lines of page 1: the lows that the team should hear of, and how many lows there were."""

from gramrise.report.weekly.chapters.document import Block, Bullets, Heading, Paragraph
from gramrise.report.weekly.numbers.view import LowView, WeeklyView
from gramrise.report.weekly.settings import ReportSettings
from gramrise.report.words import Words

# Level 2 of the consensus: below so many mg/dL for so many minutes.
DEEP_BELOW = 54.0
DEEP_MINUTES = 15


def team_chapter(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    """The gravest lows one by one, the others counted; then the number of lows against the week before."""
    heading = Heading(words.say("title.team"))
    if view.coverage.readings_n == 0:
        return [heading, Paragraph(words.say("change.no_readings"))]
    shown = [_line(low, words) for low in view.team[: settings.most_team_lows]]
    rest = len(view.team) - len(shown)
    if rest:
        shown.append(words.say("team.more", count=rest))
    blocks: list[Block] = [heading, *([Bullets(tuple(shown))] if shown else [])]
    said = [] if shown or not view.lows else [_nothing(view, words)]
    said.append(_count(view, words))
    return [*blocks, Paragraph(" ".join(said))]


def _nothing(view: WeeklyView, words: Words) -> str:
    hours = words.number(view.prolonged_minutes / 60, 0 if view.prolonged_minutes % 60 == 0 else 1)
    return words.say("team.none", deep=words.level(DEEP_BELOW), minutes=DEEP_MINUTES, hours=hours)


def _line(low: LowView, words: Words) -> str:
    """One low: when, how long, how deep, and what is in the log."""
    when = words.when(low.start_utc)
    if low.by_night:
        when = words.say("team.by_night", when=when)
    lowest = words.say("low.below_range") if low.below_range else f"{words.level(low.nadir_mg_dl)} {words.unit}"
    deep = words.say("team.level_2", lowest=lowest) if low.level >= 2 else lowest
    if low.minutes is None:
        said = words.say("team.low_open", when=when, lowest=deep, what=_logged(low, words))
    else:
        said = words.say("team.low", when=when, minutes=round(low.minutes), lowest=deep, what=_logged(low, words))
    return f"{said} {words.say('low.lain_upon')}" if low.lain_upon else said


def _logged(low: LowView, words: Words) -> str:
    if low.nothing_logged:
        return words.say("team.nothing_logged")
    if low.minutes_to_glucose is None:
        return words.say("team.other_logged")
    grams = words.say("strips.unknown_grams") if low.grams is None else words.grams(low.grams)
    minutes = round(low.minutes_to_glucose)
    if minutes < 0:
        return words.say("team.given_before", grams=grams, minutes=-minutes)
    return words.say("team.given_after", grams=grams, minutes=minutes)


def _count(view: WeeklyView, words: Words) -> str:
    """How many lows, against the week before where that is known."""
    change = next(change for change in view.changes if change.code == "lows")
    now, before = int(change.now or 0), change.before
    if before is not None:
        return words.say("change.lows", count=now, before=int(before))
    return words.say("change.lows_first", count=now) if now else words.say("change.no_lows")
