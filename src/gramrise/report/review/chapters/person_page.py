"""A person's page: the statement, the course of the number, what else changed, what was shown, and the sign-off."""

from gramrise.report.lack_words import still_learning
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
    joined,
)
from gramrise.report.review.chapters.course_picture import course_picture
from gramrise.report.review.chapters.danger_words import danger_words
from gramrise.report.review.chapters.drift_words import drift_numbers, drift_sentence, recomputed
from gramrise.report.review.chapters.frame import person_page_of, words_of
from gramrise.report.review.chapters.happened_words import CHANGED_PART, changed_chapter
from gramrise.report.review.chapters.pairing_words import (
    amount_words,
    anchor_of,
    set_aside_words,
    verdict_words,
)
from gramrise.report.review.chapters.pairings_page import band_part, bands_of
from gramrise.report.review.chapters.sign_off_words import sign_off_chapter
from gramrise.report.review.numbers.view import Paired, PersonReview, Shown
from gramrise.report.weekly.numbers.view import FactorView
from gramrise.report.words import Words


def person_page(review: PersonReview, *, with_panel: bool = True) -> Page:
    words = words_of(review)
    blocks = person_chapters(review, words)
    return person_page_of(review, PageKind.PERSON, words.say("way.person"), blocks, words, with_panel=with_panel)


def person_chapters(review: PersonReview, words: Words, *, pairings: bool = True) -> list[Block]:
    """The page's chapters; `pairings` False leaves out the lines that lead to the traces."""
    return [
        *statement(review, words),
        *_courses(review, words),
        *changed_chapter(review, words),
        *(_pairings(review, words) if pairings else ()),
        *_shown(review, words),
        *sign_off_chapter(review, words),
        *rests_and_cautions(review, words),
    ]


def statement(review: PersonReview, words: Words) -> list[Block]:
    """First what is dangerous, then how each number stands to the signed one, else the number alone."""
    danger = danger_words(review.dangers, words)
    visit = Place(PageKind.VISIT, review.person_id)
    said = words.say("danger.in_days", count=review.dangers.days, what=danger) if danger else ""
    blocks: list[Block] = []
    if danger:
        blocks.append(Paragraph((Strong(said), " ", Link(words.say("danger.look"), visit)), lead=True))
    else:
        blocks.append(Paragraph((words.say("danger.none", count=review.dangers.days),)))
    lines = [_band_line(factor, review, words) for factor in review.factors]
    return [*blocks, Items(tuple(lines)), Paragraph((words.say("review.likely"),), quiet=True)]


def _band_line(factor: FactorView, review: PersonReview, words: Words) -> Line:
    """One band: the change since the reference, the number of today, and the way to its pairings."""
    moved = next((line for line in review.drift if line.band == factor.band), None)
    number = _number(factor, words)
    at = [name for name, _ in bands_of(review)].index(factor.band) + 1
    mine = sum(one.band == factor.band for one in review.pairings)
    way = Link(words.say("review.pairings", count=mine), Place(PageKind.PAIRINGS, review.person_id, band_part(at)))
    if moved is None:
        return joined((Strong(words.band_and_hours(factor.band, factor.hours) + ":"),), number, (way,))
    told = recomputed(moved, _signed_number(factor.band, review), factor.numbers[0] if factor.known else None, words)
    return joined((Strong(drift_sentence(moved, words)),), told, drift_numbers(moved, words), number, (way,))


def _signed_number(band: str, review: PersonReview) -> float | None:
    bands = review.signed.bands if review.signed is not None else ()
    return next((one.factor_mg_dl_per_g for one in bands if one.band == band), None)


def _number(factor: FactorView, words: Words) -> str:
    if not factor.known:
        return words.say("review.no_number")
    middle, low, high, _ = words.factor(*factor.numbers)
    said = words.say("review.number", middle=middle, low=low, high=high, count=factor.pairings_used)
    state = words.say(f"state.{factor.state}")
    if factor.state == "thin":
        state = still_learning(factor.lacks, factor.band, words)
    return f"{said} ({state})"


def _courses(review: PersonReview, words: Words) -> list[Block]:
    blocks: list[Block] = [Heading(words.say("course.title"), "course")]
    drawn = False
    for course in review.courses:
        figure = course_picture(course, review.weeks, review.happened, review.data_on, words)
        if figure is None:
            continue
        drawn = True
        band = words.band_and_hours(course.band, course.hours)
        blocks += [Paragraph((Strong(words.say("course.of", band=band)),)), figure]
    if not drawn:
        return [*blocks, Paragraph((words.say("course.none"),))]
    to_changes = Link(words.say("happened.title"), Place(PageKind.PERSON, review.person_id, CHANGED_PART))
    return [*blocks, Paragraph((words.say("course.below"), " ", to_changes), quiet=True)]


def _pairings(review: PersonReview, words: Words) -> list[Block]:
    """A line each; its day leads to its trace."""
    title = words.say("pairing.title")
    day = words.day(review.pairings_from_on, "medium")
    blocks: list[Block] = [Heading(title, "pairings")]
    if not review.pairings:
        return [*blocks, Paragraph((words.say("pairing.none", day=day),))]
    head = tuple(words.say(f"pairing.column.{name}") for name in ("when", "band", "given", "verdict"))
    rows = tuple(_pairing_row(one, review, words) for one in review.pairings)
    since = "pairing.since" if review.signed else "pairing.unsigned"
    return [
        *blocks,
        Paragraph((words.say(since, day=day),), quiet=True),
        Table(title, head, (False, False, False, False), rows),
    ]


def _pairing_row(one: Paired, review: PersonReview, words: Words) -> Row:
    to = Place(PageKind.PAIRINGS, review.person_id, anchor_of(one))
    return Row(
        (
            (Link(words.when_dated(one.first_dose_utc), to),),
            (words.band(one.band),),
            (amount_words(one, words),),
            (verdict_words(one, words),),
        ),
        (set_aside_words(one, words),) if one.verdict == "set_aside" else (),
    )


def _shown(review: PersonReview, words: Words) -> list[Block]:
    title = words.say("shown.title")
    blocks: list[Block] = [Heading(title, "shown")]
    if not review.shown:
        return [*blocks, Paragraph((words.say("shown.none"),))]
    head = tuple(words.say(f"column.{name}") for name in ("when", "band", "factor", "likely", "used", "state"))
    rows = tuple(_shown_row(one, words) for one in review.shown)
    return [
        *blocks,
        Paragraph((words.say("shown.how"),), quiet=True),
        Table(title, head, (False, False, True, True, True, False), rows),
    ]


def _shown_row(one: Shown, words: Words) -> Row:
    middle, low, high = words.factor(one.factor_mg_dl_per_g, one.p05_mg_dl_per_g, one.p95_mg_dl_per_g)
    return Row(
        (
            (words.day(words.local_date(one.at_utc), "medium"),),
            (words.band(one.band),),
            (middle,),
            (f"{low}–{high}",),
            (words.number(one.pairings_used),),
            (words.say(f"state.{one.state}"),),
        )
    )


def rests_and_cautions(review: PersonReview, words: Words) -> list[Block]:
    rests = " ".join(words.say(f"rests.{code}", level=words.level(60), sources="") for code in review.rests_on)
    cautions: tuple[Line, ...] = tuple(
        (words.say(f"caution.{code}", level=words.level(70)),) for code in review.cautions
    )
    return [
        Heading(words.say("title.rests"), "rests"),
        Paragraph((rests,)),
        Heading(words.say("title.cautions"), "cautions"),
        Items(cautions),
    ]
