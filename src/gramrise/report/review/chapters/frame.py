"""What stands around every page of a person: whose it is, the ways to the other pages, and the foot."""

from collections.abc import Iterable

from gramrise.report.review.chapters.blocks import Block, Link, Page, PageKind, Piece, Place
from gramrise.report.review.numbers.view import PersonReview
from gramrise.report.words import Words, words_for

ORDER = (PageKind.PERSON, PageKind.PAIRINGS, PageKind.VISIT)
# What stands where nothing is known.
NOTHING = "–"


def words_of(review: PersonReview) -> Words:
    return words_for(review.language, review.unit, review.zone)


def name_of(review: PersonReview) -> str:
    return review.name or review.person_id


def person_page_of(
    review: PersonReview, kind: PageKind, heading: str, blocks: Iterable[Block], words: Words, *, with_panel: bool
) -> Page:
    """A page of a person.

    with_panel  there is a panel to go back to
    """
    place = Place(kind, review.person_id)
    kinds = (*((PageKind.PANEL,) if with_panel else ()), *ORDER)
    ways: list[Piece] = []
    for each in kinds:
        said = words.say(f"way.{each}")
        to = Place(each, "" if each is PageKind.PANEL else review.person_id)
        ways.append(said if each is kind else Link(said, to))
    return Page(
        place=place,
        language=words.language,
        title=f"{name_of(review)}: {heading}",
        kicker=words.say("review.kicker"),
        heading=name_of(review),
        subtitle=_subtitle(review, heading, words),
        written=words.say(
            "review.written",
            day=words.day(words.local_date(review.written_at_utc), "medium"),
            clock=words.clock(review.written_at_utc),
            data=words.day(review.data_on, "medium"),
        ),
        ways=tuple(ways),
        ways_label=words.say("way.label"),
        footer=words.say("title.footer_caution"),
        blocks=tuple(blocks),
    )


def _subtitle(review: PersonReview, heading: str, words: Words) -> str:
    said = [heading, words.say("review.born", day=words.day(review.born, "medium"), age=int(review.age_years))]
    if review.weight_kg is not None:
        kg = words.number(review.weight_kg, 1)
        on = review.weighed_on
        said.append(words.say("review.weight", kg=kg) if on is None else
                    words.say("review.weight_on", kg=kg, day=words.day(on, "medium")))  # fmt: skip
    if review.delivery:
        said.append(words.say(f"delivery.{review.delivery}"))
    return " · ".join(said)
