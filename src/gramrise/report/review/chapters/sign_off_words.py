"""A sign-off in words: everything that was recorded, and that a typed name is no authentication."""

from gramrise.report.review.chapters.blocks import Block, Heading, Items, Line, Paragraph, Row, Strong, Table
from gramrise.report.review.chapters.frame import NOTHING
from gramrise.report.review.chapters.pairing_words import reason_words
from gramrise.report.review.numbers.view import PersonReview, SignedBand, SignOff
from gramrise.report.words import Words

SIGN_OFF_PART = "sign-off"


def sign_off_chapter(review: PersonReview, words: Words) -> list[Block]:
    """The latest sign-off whole, the earlier ones in a line each."""
    blocks: list[Block] = [Heading(words.say("sign_off.title"), SIGN_OFF_PART)]
    if not review.sign_offs:
        how = words.say("sign_off.how", person=review.person_id)
        return [*blocks, Paragraph((words.say("sign_off.none"),)), Paragraph((how,), quiet=True)]
    latest, *earlier = review.sign_offs
    blocks += [Paragraph((Strong(sign_off_line(latest, words)),)), *_whole(latest, words)]
    if earlier:
        lines: tuple[Line, ...] = tuple((sign_off_line(one, words),) for one in earlier)
        blocks += [Heading(words.say("sign_off.history")), Items(lines)]
    return [*blocks, Paragraph((words.say("sign_off.no_authentication"),), quiet=True)]


def sign_off_line(one: SignOff, words: Words) -> str:
    said = words.say(
        "sign_off.accepted" if one.accepted else "sign_off.seen",
        number=one.number,
        by=one.signed_by,
        role=one.role or words.say("sign_off.no_role"),
        day=words.day(words.local_date(one.signed_at_utc), "medium"),
    )
    reasons = [words.say(f"holds_not.{code}") for code in one.holds_not]
    return f"{said} {words.say('sign_off.holds_not', why=', '.join(reasons))}" if reasons else said


def _whole(one: SignOff, words: Words) -> list[Block]:
    head = tuple(words.say(f"column.{name}") for name in ("band", "factor", "likely", "used"))
    rows = tuple(_row(band, words) for band in one.bands)
    lines: list[Line] = [(said,) for said in _facts(one, words) if said]
    return [Table(words.say("sign_off.title"), head, (False, True, True, True), rows), Items(tuple(lines))]


def _row(band: SignedBand, words: Words) -> Row:
    name = words.band_and_hours(band.band, band.hours)
    numbers = (band.factor_mg_dl_per_g, band.p05_mg_dl_per_g, band.p95_mg_dl_per_g)
    known = tuple(value for value in numbers if value is not None)
    told = words.factor(*known) if len(known) == len(numbers) else (NOTHING, "", "")
    likely = f"{told[1]}–{told[2]}" if told[1] else NOTHING
    return Row(((name,), (told[0],), (likely,), (words.number(band.pairings_used),)))


def _facts(one: SignOff, words: Words) -> list[str]:
    said = [words.say("sign_off.as_of", day=words.day(one.as_of, "medium"))]
    if one.valid_until is not None:
        said.append(words.say("sign_off.valid_until", day=words.day(one.valid_until, "medium")))
    if one.weight_kg is not None:
        said.append(words.say("sign_off.weight", kg=words.number(one.weight_kg, 1)))
    if one.delivery:
        settings = f" ({one.settings})" if one.settings else ""
        said.append(words.say("sign_off.delivery", delivery=words.say(f"delivery.{one.delivery}") + settings))
    if one.sources:
        told = ", ".join(
            words.say(f"strength.{source.unit}", name=source.name, grams=words.number(source.grams_per_unit, 2))
            for source in one.sources
        )
        said.append(words.say("sign_off.sources", sources=told))
    if one.data_from is not None and one.data_to is not None:
        ends = {"first": words.day(one.data_from, "medium"), "last": words.day(one.data_to, "medium")}
        said.append(words.say("sign_off.data", **ends))
    if one.set_aside:
        told = " ".join(f"{each.count} × {reason_words(each.reason, words)}" for each in one.set_aside)
        said.append(words.say("sign_off.set_aside", reasons=told))
    if one.plan_amounts:
        told = ", ".join(
            words.say("sign_off.plan_amount", name=words.say(f"plan_amount.{each.name}"), grams=words.grams(each.grams))
            for each in one.plan_amounts
        )
        said.append(words.say("sign_off.plan", version=one.plan_version or NOTHING, amounts=told))
    if one.cards_superseded:
        cards = ", ".join(str(number) for number in one.cards_superseded)
        said.append(words.say("sign_off.cards", cards=cards))
    if one.told:
        said.append(words.say("sign_off.told", who=one.told))
    if one.note:
        said.append(words.say("sign_off.note", note=one.note))
    return [*said, words.say("sign_off.model", version=one.model_version)]
