"""Every pairing since the reference as a small trace with its untreated path, by time band, the latest first."""

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
    Small,
    Smalls,
    Strong,
)
from gramrise.report.review.chapters.frame import name_of, person_page_of, words_of
from gramrise.report.review.chapters.pairing_picture import pairing_svg
from gramrise.report.review.chapters.pairing_words import (
    amount_words,
    anchor_of,
    levels_words,
    reasons_words,
    verdict_words,
)
from gramrise.report.review.numbers.view import Paired, PersonReview
from gramrise.report.words import Words


def band_part(number: int) -> str:
    """The part of the page that holds the pairings of a band, by its place among the person's bands."""
    return f"band{number}"


def bands_of(review: PersonReview) -> tuple[tuple[str, str], ...]:
    """(name, hours) of the bands of today, then of those under which some pairing still stands."""
    today = tuple((factor.band, factor.hours) for factor in review.factors)
    earlier = dict.fromkeys(one.band for one in review.pairings if one.band not in {name for name, _ in today})
    return (*today, *((name, "") for name in earlier))


def pairings_page(review: PersonReview, *, with_panel: bool = True) -> Page:
    words = words_of(review)
    blocks: list[Block] = [Paragraph((_count(review, words),)), Paragraph((words.say("pairing.how"),), quiet=True)]
    bands = bands_of(review)
    if len(bands) > 1:
        links: list[Line] = [
            (Link(words.band_and_hours(name, hours), Place(PageKind.PAIRINGS, review.person_id, band_part(at))),)
            for at, (name, hours) in enumerate(bands, 1)
        ]
        blocks.append(Items(tuple(links)))
    for at, (name, hours) in enumerate(bands, 1):
        mine = [one for one in review.pairings if one.band == name]
        blocks.append(Heading(words.band_and_hours(name, hours), band_part(at)))
        if mine:
            blocks.append(Smalls(tuple(_small(one, review, words) for one in mine)))
        else:
            blocks.append(Paragraph((words.say("pairing.none_in_band"),)))
    return person_page_of(review, PageKind.PAIRINGS, words.say("way.pairings"), blocks, words, with_panel=with_panel)


def _count(review: PersonReview, words: Words) -> str:
    used = sum(one.verdict == "used" for one in review.pairings)
    return words.say(
        "pairing.count",
        count=len(review.pairings),
        used=used,
        name=name_of(review),
        day=words.day(review.pairings_from_on, "medium"),
    )


def _small(one: Paired, review: PersonReview, words: Words) -> Small:
    lines: list[Line] = [
        (amount_words(one, words),),
        (Strong(verdict_words(one, words)),),
        (levels_words(one, words),),
        (reasons_words(one, words),),
    ]
    return Small(
        part=anchor_of(one),
        title=words.when_dated(one.first_dose_utc),
        svg=pairing_svg(one, review, words),
        alt=words.say("pairing.alt", when=words.when_dated(one.first_dose_utc), given=amount_words(one, words)),
        lines=tuple(each for each in lines if each != ("",)),
    )
