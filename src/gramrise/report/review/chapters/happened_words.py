"""What else changed, in words: a table under the number by which each stands on the axis."""

from gramrise.report.review.chapters.blocks import Block, Heading, Paragraph, Row, Table
from gramrise.report.review.chapters.course_picture import numbered
from gramrise.report.review.numbers.view import Happened, PersonReview
from gramrise.report.words import Words

CHANGED_PART = "changed"
# Changes whose text is a code of the words, not somebody's own words.
CODED = {"delivery": "delivery"}


def changed_chapter(review: PersonReview, words: Words) -> list[Block]:
    title = words.say("happened.title")
    told = numbered(review.happened)
    if not told:
        return [Heading(title, CHANGED_PART), Paragraph((words.say("happened.none"),))]
    head = tuple(words.say(f"happened.column.{name}") for name in ("number", "day", "what"))
    rows = tuple(
        Row(((number,), (_days(each, words),), (happened_words(each, words),))) for number, each in reversed(told)
    )
    return [
        Heading(title, CHANGED_PART),
        Paragraph((words.say("happened.no_cause"),), quiet=True),
        Table(title, head, (True, False, False), rows),
        Paragraph((words.say("happened.not_kept"),), quiet=True),
    ]


def _days(each: Happened, words: Words) -> str:
    first = words.day(each.on, "brief")
    return first if each.until is None or each.until == each.on else f"{first} – {words.day(each.until, 'brief')}"


def happened_words(each: Happened, words: Words) -> str:
    text = words.say(f"{CODED[each.code]}.{each.text}") if each.code in CODED else each.text
    decimals = 2 if each.code == "strength" else 1 if each.code == "weighed" else 0
    values = {
        name: words.level(value) if each.code == "target" else words.number(value, decimals)
        for name, value in (("value", each.value), ("before", each.before))
        if value is not None
    }
    if each.code == "target" and each.before is None:
        values["before"] = "–"
    if each.code in {"illness", "note", "sensor_start"} and not text:
        return words.say(f"happened.{each.code}_bare")
    return words.say(f"happened.{each.code}", text=text, **values)
