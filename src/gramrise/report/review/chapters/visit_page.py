"""The page before the visit: what a nurse reads in two minutes."""

from typing import Final

from gramrise.report.review.chapters.blocks import (
    Block,
    Heading,
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
from gramrise.report.review.chapters.frame import NOTHING, person_page_of, words_of
from gramrise.report.review.chapters.happened_words import happened_words
from gramrise.report.review.numbers.dangers import codes_of
from gramrise.report.review.numbers.view import GivenBand, PersonReview, Visit
from gramrise.report.review.settings import DEFAULT, ReviewSettings
from gramrise.report.weekly.chapters.treatment_tables import outcome_sentences
from gramrise.report.weekly.numbers.questions import question_sentence
from gramrise.report.weekly.numbers.view import LowView
from gramrise.report.words import Words

# Our choice: a shorter gap is told in minutes.
LEAST_IN_HOURS: Final = 2.0


def visit_page(review: PersonReview, settings: ReviewSettings = DEFAULT, *, with_panel: bool = True) -> Page:
    words = words_of(review)
    blocks = visit_chapters(review, words, settings)
    return person_page_of(review, PageKind.VISIT, words.say("way.visit"), blocks, words, with_panel=with_panel)


def visit_chapters(review: PersonReview, words: Words, settings: ReviewSettings) -> list[Block]:
    visit = review.visit
    return [
        *_dangerous(visit, words, settings),
        *_given(visit, words),
        *_unnoticed(visit, words),
        *_changed(review, words),
        *_coverage(visit, words),
        *_questions(visit, words, settings),
    ]


def _dangerous(visit: Visit, words: Words, settings: ReviewSettings) -> list[Block]:
    title = words.say("visit.dangerous")
    days = {"first": words.day(visit.from_on, "medium"), "last": words.day(visit.to_on, "medium")}
    said = words.say("visit.lows", count=visit.lows_n, night=visit.lows_by_night_n, **days)
    danger = danger_words(visit.dangers, words)
    blocks: list[Block] = [Heading(title), Paragraph((said,))]
    if not danger:
        return [*blocks, Paragraph((words.say("visit.no_danger"),))]
    blocks.append(Paragraph((Strong(f"{danger}."),), lead=True))
    head = tuple(words.say(f"visit.column.{name}") for name in ("when", "lowest", "minutes", "why", "written"))
    shown = visit.dangerous[: settings.most_danger_lows]
    blocks.append(Table(title, head, (False, True, True, False, False), tuple(_low_row(low, words) for low in shown)))
    rest = len(visit.dangerous) - len(shown)
    return [*blocks, Paragraph((words.say("visit.more_lows", count=rest),), quiet=True)] if rest else blocks


def _low_row(low: LowView, words: Words) -> Row:
    lowest = words.say("low.below_range") if low.below_range else words.level(low.nadir_mg_dl)
    why = ", ".join(words.say(f"danger_of.{code}") for code in codes_of(low))
    when = words.when_dated(low.start_utc)
    return Row(
        (
            (words.say("team.by_night", when=when) if low.by_night else when,),
            (lowest,),
            (words.say("low.open") if low.minutes is None else words.number(low.minutes),),
            (why,),
            (_written(low, words),),
        ),
        (_more(low, words),),
    )


def _more(low: LowView, words: Words) -> str:
    """What the columns do not say: doubt about the sensor, and how likely it is that glucose was given all the same."""
    said = outcome_sentences(low, words)
    told_by_column = low.outcome == "nothing_logged" and not low.lain_upon
    return " ".join(said[1:] if told_by_column else said)


def _written(low: LowView, words: Words) -> str:
    if low.minutes_to_glucose is None:
        return words.say("team.nothing_logged" if low.nothing_logged else "team.other_logged")
    grams = words.say("strips.unknown_grams") if low.grams is None else words.grams(low.grams)
    minutes = round(low.minutes_to_glucose)
    code = "team.given_before" if minutes < 0 else "team.given_after"
    return words.say(code, grams=grams, minutes=abs(minutes))


def _given(visit: Visit, words: Words) -> list[Block]:
    title = words.say("visit.given")
    head = tuple(
        words.say(f"visit.given_column.{name}", high=words.level(180))
        for name in ("band", "day", "times", "usual", "after")
    )
    rows = tuple(_given_row(band, words) for band in visit.given)
    said = [words.say("visit.second", count=visit.second_amounts_n)] if visit.second_amounts_n else []
    if visit.amounts_unknown_n:
        said.append(words.say("days.unknown", count=visit.amounts_unknown_n))
    above = words.say("visit.above", count=visit.treatments_n, above=visit.above_180_n, high=words.level(180))
    return [
        Heading(title),
        Table(title, head, (False, True, True, True, True), rows),
        Paragraph((" ".join([above, *said]),)),
    ]


def _given_row(band: GivenBand, words: Words) -> Row:
    median = NOTHING if band.median_grams is None else words.grams(band.median_grams)
    above = words.say("visit.of", some=band.above_180_n, all=band.treatments_n)
    return Row(
        (
            (words.band_and_hours(band.band, band.hours),),
            (words.number(band.grams_a_day, 1),),
            (words.number(band.times_n),),
            (median,),
            (above,),
        )
    )


def _unnoticed(visit: Visit, words: Words) -> list[Block]:
    dangers = visit.dangers
    told = words.say("visit.told_who", count=dangers.told_who_n, lows=dangers.lows_n)
    said = words.say("visit.unnoticed", count=dangers.unnoticed_n) if dangers.told_who_n else ""
    return [Heading(words.say("visit.unnoticed_title")), Paragraph((f"{said} {told}".strip(),))]


def _changed(review: PersonReview, words: Words) -> list[Block]:
    """How the numbers stand, then what else changed in these days."""
    lines: list[Line] = [(drift_sentence(line, words),) for line in review.drift]
    lines += [
        (words.day(each.on, "brief"), ": ", happened_words(each, words))
        for each in review.happened
        if each.on >= review.visit.from_on and each.code != "note"
    ]
    to = Link(words.say("visit.whole"), Place(PageKind.PERSON, review.person_id))
    found: Block = Items(tuple(lines)) if lines else Paragraph((words.say("happened.none"),))
    return [Heading(words.say("visit.changed")), found, Paragraph((to,), quiet=True)]


def _coverage(visit: Visit, words: Words) -> list[Block]:
    said = words.say(
        "visit.covered",
        share=words.percent(visit.covered),
        gap=_gap(visit.longest_gap_hours, words),
        count=visit.nothing_logged_n,
    )
    return [Heading(words.say("visit.coverage")), Paragraph((said,))]


def _gap(hours: float, words: Words) -> str:
    if hours < LEAST_IN_HOURS:
        return words.say("visit.gap_minutes", count=round(hours * 60))
    return words.say("visit.gap_hours", count=round(hours))


def _questions(visit: Visit, words: Words, settings: ReviewSettings) -> list[Block]:
    """What the family asked or noted, and what the program still asks them."""
    blocks: list[Block] = [Heading(words.say("visit.notes"))]
    shown = visit.notes[: settings.most_notes]
    lines: tuple[Line, ...] = tuple((Strong(words.when_dated(note.at_utc)), " ", note.text) for note in shown)
    blocks.append(Items(lines) if lines else Paragraph((words.say("visit.no_notes"),)))
    if len(visit.notes) > len(shown):
        blocks.append(Paragraph((words.say("visit.more_notes", count=len(visit.notes) - len(shown)),), quiet=True))
    if visit.questions:
        asked: tuple[Line, ...] = tuple((question_sentence(each, words),) for each in visit.questions)
        blocks += [Heading(words.say("visit.open_questions")), Items(asked)]
    return blocks
