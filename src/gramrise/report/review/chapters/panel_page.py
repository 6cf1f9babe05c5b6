"""The panel: one line a person, danger first, then those whose number moved."""

from collections.abc import Callable

from gramrise.report.review.chapters.blocks import (
    Block,
    Items,
    Line,
    Link,
    Page,
    PageKind,
    Paragraph,
    Place,
    Row,
    Strong,
    Table,
)
from gramrise.report.review.chapters.danger_words import danger_words
from gramrise.report.review.chapters.drift_words import drift_sentence
from gramrise.report.review.chapters.frame import NOTHING
from gramrise.report.review.numbers.view import Panel, PanelLine
from gramrise.report.words import Words, words_for

GROUPS: tuple[tuple[str, Callable[[PanelLine], bool]], ...] = (
    ("danger", lambda line: line.dangers.any),
    ("moved", lambda line: not line.dangers.any and line.moved),
    ("rest", lambda line: not line.dangers.any and not line.moved),
)


def panel_page(panel: Panel) -> Page:
    words = words_for(panel.language, "mg/dL", "UTC")
    title = words.say("panel.title")
    return Page(
        place=Place(PageKind.PANEL),
        language=words.language,
        title=title,
        kicker=words.say("review.kicker"),
        heading=title,
        subtitle=words.say("panel.subtitle", count=len(panel.lines)),
        written=words.say(
            "panel.written",
            day=words.day(panel.written_at_utc.date(), "medium"),
            clock=words.clock(panel.written_at_utc),
        ),
        ways=(),
        ways_label=words.say("way.label"),
        footer=words.say("title.footer_caution"),
        blocks=tuple(_blocks(panel, words)),
    )


def _blocks(panel: Panel, words: Words) -> list[Block]:
    blocks: list[Block] = [Paragraph((_counts(panel, words),), lead=True)]
    moved = [line for line in panel.lines if line.moved]
    if moved:
        blocks.append(Paragraph((words.say("panel.moved"),)))
        blocks.append(Items(tuple(_moved(line, panel) for line in sorted(moved, key=_probable))))
    if moved and panel.expected_false is not None:
        blocks.append(
            Paragraph((words.say("panel.false_alarms", share=words.percent(panel.expected_false)),), quiet=True)
        )
    head = tuple(
        words.say(f"panel.column.{name}", count=panel.danger_days)
        for name in ("who", "danger", "number", "reference", "data")
    )
    rows: list[Row] = []
    for code, belongs in GROUPS:
        mine = [line for line in panel.lines if belongs(line)]
        if mine:
            rows.append(Row(((words.say(f"panel.group.{code}", count=len(mine)),),), group=True))
            rows += [_row(line, panel) for line in mine]
    if rows:
        blocks.append(Table(words.say("panel.title"), head, (False,) * len(head), tuple(rows)))
    if panel.could_not:
        blocks.append(Paragraph((words.say("panel.could_not", who=", ".join(panel.could_not)),)))
    return [*blocks, Paragraph((words.say("panel.how", count=panel.danger_days),), quiet=True)]


def _probable(line: PanelLine) -> float:
    return -max(each.probability_moved for each in line.drift)


def _counts(panel: Panel, words: Words) -> str:
    if not panel.lines:
        return words.say("panel.nobody")
    danger, moved = (sum(belongs(line) for line in panel.lines) for belongs in (_in_danger, _has_moved))
    return words.say("panel.counts", count=danger, moved=moved)


def _in_danger(line: PanelLine) -> bool:
    return line.dangers.any


def _has_moved(line: PanelLine) -> bool:
    return line.moved


def _of(line: PanelLine, panel: Panel) -> Words:
    """The clinic's language, the family's unit and clock."""
    return words_for(panel.language, line.unit, line.zone)


def _name(line: PanelLine) -> Link:
    return Link(line.name or line.person_id, Place(PageKind.PERSON, line.person_id))


def _moved(line: PanelLine, panel: Panel) -> Line:
    own = _of(line, panel)
    said = " ".join(drift_sentence(each, own) for each in line.drift if each.listed)
    return (_name(line), ": ", said)


def _row(line: PanelLine, panel: Panel) -> Row:
    own = _of(line, panel)
    visit = Place(PageKind.VISIT, line.person_id)
    danger = danger_words(line.dangers, own)
    who: Line = (_name(line), f", {int(line.age_years)}")
    return Row(
        (
            who,
            (Link(danger, visit),) if danger else (NOTHING,),
            _numbers(line, own),
            (_reference(line, own),),
            (_data(line, own),),
        )
    )


def _numbers(line: PanelLine, words: Words) -> Line:
    if not line.drift:
        return (NOTHING,)
    worst = line.drift[0]
    said = drift_sentence(worst, words)
    return (Strong(said),) if worst.listed else (said,)


def _reference(line: PanelLine, words: Words) -> str:
    if line.signed_on is None:
        return words.say("panel.unsigned")
    said = words.day(line.signed_on, "brief")
    reasons = ", ".join(words.say(f"holds_not.{code}") for code in line.holds_not)
    return words.say("panel.void", day=said, why=reasons) if reasons else said


def _data(line: PanelLine, words: Words) -> str:
    if line.last_reading_utc is None:
        return words.say("panel.no_data")
    if line.silent_days is not None:
        return words.say("panel.silent", count=line.silent_days)
    return words.day(words.local_date(line.last_reading_utc), "brief")
