"""Page 1 in words: the answer, what changed, the state of the card, questions waiting. Under 250 words."""

from gramrise.report.asked import question_sentence
from gramrise.report.card_lines import card_lines
from gramrise.report.document import AnswerFigure, Answers, Block, Bullets, Heading, Paragraph
from gramrise.report.lack_words import lack_words
from gramrise.report.settings import ReportSettings
from gramrise.report.view import Change, FactorView, WeeklyView
from gramrise.report.words import Words

# Our choice: within a hundredth the number is the table's, as no print shows the difference.
SAME_AS_TABLE = 0.01


def page_one(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    blocks: list[Block] = [
        Heading(words.say("title.answer")),
        Answers(tuple(_figure(factor, view.reference_grams is None, words) for factor in view.factors)),
    ]
    if any(factor.known for factor in view.factors):
        blocks.append(Paragraph(words.say("answer.meaning"), quiet=True))
    if view.delivery == "automated":
        blocks.append(Paragraph(words.say("answer.automated")))
    return [
        *blocks,
        Heading(words.say("title.changed")),
        Bullets(_changes(view, words)),
        Heading(words.say("title.card")),
        *(Paragraph(line) for line in card_lines(view.cards, words)),
        Heading(words.say("title.questions")),
        *_questions(view, words, settings.most_questions),
    ]


def _figure(factor: FactorView, weight_missing: bool, words: Words) -> AnswerFigure:
    value = unit = likely = ""
    if factor.known:
        value, low_text, high_text, _ = words.factor(*factor.numbers)
        unit, likely = str(words.unit), words.say("answer.likely", low=low_text, high=high_text)
    lead = words.say("answer.raises") if value else words.say("answer.none")
    return AnswerFigure(
        words.band(factor.band),
        words.hours(factor.hours),
        lead,
        value,
        unit,
        likely,
        _basis(factor, bool(value), weight_missing, words),
    )


def _basis(factor: FactorView, known: bool, weight_missing: bool, words: Words) -> str:
    if not known:
        return words.say("answer.none_why" if weight_missing else "answer.none_yet")
    if factor.state == "withheld":
        return words.say("answer.withheld", count=factor.pairings_used)
    if factor.pairings_used == 0:
        # Treatments in other bands move this one, too: then it is no longer the table's number.
        start, now = factor.starting_mg_dl_per_g, factor.factor_mg_dl_per_g
        moved = start is not None and now is not None and abs(now / start - 1) > SAME_AS_TABLE
        return _with_lacks(words.say("answer.other_bands" if moved else "answer.table"), factor, words)
    return _with_lacks(words.say(f"answer.{factor.state}", count=factor.pairings_used), factor, words)


def _with_lacks(basis: str, factor: FactorView, words: Words) -> str:
    """What the number comes from, and what it lacks to be the person's own."""
    if not factor.lacks:
        return basis
    return f"{basis}; {words.say('on_card.lacking', lacks=lack_words(factor.lacks, factor.band, words))}"


def _changes(view: WeeklyView, words: Words) -> tuple[str, ...]:
    if view.coverage.readings_n == 0:
        kept = [change for change in view.changes if change.code != "lows"]
        return (*(_change(change, view, words) for change in kept), words.say("change.no_readings"))
    return tuple(_change(change, view, words) for change in view.changes)


def _change(change: Change, view: WeeklyView, words: Words) -> str:
    now, before = change.now or 0.0, change.before
    if change.code == "lows":
        return _lows(int(now), before, words)
    if change.code == "treatments":
        return words.say("change.treatments", count=int(before or 0), used=int(now))
    now_text, before_text = words.factor(now, before or 0.0)
    band = words.band_and_hours(change.band, view.hours_of(change.band))
    return words.say(f"change.{change.code}", band=band, now=now_text, before=before_text)


def _lows(now: int, before: float | None, words: Words) -> str:
    if before is not None:
        return words.say("change.lows", count=now, before=int(before))
    return words.say("change.lows_first", count=now) if now else words.say("change.no_lows")


def _questions(view: WeeklyView, words: Words, most: int) -> list[Block]:
    if not view.questions:
        return [Paragraph(words.say("question.none"))]
    shown = [question_sentence(question, words) for question in view.questions[:most]]
    rest = len(view.questions) - len(shown)
    return [Bullets((*shown, *((words.say("question.more", count=rest),) if rest else ())))]
