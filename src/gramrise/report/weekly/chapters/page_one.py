"""Page 1 in words: what to tell the team, the answer, glucose given, every card, questions waiting. Under 250 words."""

import re
from typing import Final

from gramrise.report.lack_words import lack_words
from gramrise.report.weekly.chapters.card_lines import card_lines
from gramrise.report.weekly.chapters.document import AnswerFigure, Answers, Block, Bullets, Heading, Paragraph, texts_of
from gramrise.report.weekly.chapters.team_lines import team_chapter
from gramrise.report.weekly.chapters.treatment_tables import HIGH_ABOVE
from gramrise.report.weekly.numbers.questions import MOST_LETTERS, question_sentence
from gramrise.report.weekly.numbers.view import FactorView, WeeklyView
from gramrise.report.weekly.settings import ReportSettings
from gramrise.report.words import Words

# Our choice: a page of 250 words (two minutes), of which its head and foot take up to 63.
MOST_WORDS = 186
FEWER_LINES: Final[tuple[dict[str, int], ...]] = (
    {},
    {"most_questions": 1},
    {"most_questions": 1, "most_team_lows": 2},
    {"most_questions": 1, "most_team_lows": 1},
)
# Where what waits of files needs the room, too: the questions are counted only.
FEWEST_LINES: Final = {"most_questions": 0, "most_team_lows": 1}
MOST_FILES: Final = 2  # are named of those with lines that could not be read; our choice
# Our choice: within a hundredth the number is the table's, as no print shows the difference.
SAME_AS_TABLE = 0.01


def page_one(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    """The fullest page that stays short: first fewer questions, then fewer lows; every card is named."""
    of_files = view.files_held or view.set_aside
    for fewer in (*FEWER_LINES, FEWEST_LINES) if of_files else FEWER_LINES:
        most = {key: min(getattr(settings, key), lines) for key, lines in fewer.items()}
        blocks = _page(view, words, settings.model_copy(update=most))
        if _words_n(blocks) <= MOST_WORDS:
            break
    return blocks


def _words_n(blocks: list[Block]) -> int:
    return sum(len(re.findall(r"\w[\w'’.,/–-]*", text)) for block in blocks for text in texts_of(block))


def _page(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    blocks: list[Block] = [
        *team_chapter(view, words, settings),
        Heading(words.say("title.answer")),
        Answers(tuple(_figure(factor, view.reference_grams is None, words) for factor in view.factors)),
    ]
    if any(factor.known for factor in view.factors):
        blocks.append(Paragraph(words.say("answer.meaning"), quiet=True))
    if view.delivery == "automated":
        blocks.append(Paragraph(words.say("answer.automated")))
    return [
        *blocks,
        Heading(words.say("title.given_week")),
        Paragraph(given_week(view, words)),
        Heading(words.say("title.card")),
        Bullets(card_lines(view.cards, words)) if view.cards else Paragraph(words.say("card_line.none")),
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
        basis(factor, bool(value), weight_missing, words),
    )


def basis(factor: FactorView, known: bool, weight_missing: bool, words: Words) -> str:
    """What a band's number rests on and, where it is not yet sure, why."""
    if not known:
        return words.say("answer.none_why" if weight_missing else "answer.none_yet")
    if factor.state == "withheld":
        return words.say("answer.withheld", count=factor.pairings_used)
    if not factor.lacks:
        return _rests_on(factor, words)
    # The gravest only: card and `factors` list them all, and most others go with it.
    lacking = words.say("on_card.lacking", lacks=lack_words(factor.lacks[:1], factor.band, words))
    return f"{_rests_on(factor, words)}; {lacking}"


def _rests_on(factor: FactorView, words: Words) -> str:
    if factor.pairings_used:
        return words.say(f"answer.{factor.state}", count=factor.pairings_used)
    # Treatments in other bands move this one, too: then it is no longer the table's number.
    start, now = factor.starting_mg_dl_per_g, factor.factor_mg_dl_per_g
    moved = start is not None and now is not None and abs(now / start - 1) > SAME_AS_TABLE
    return words.say("answer.other_bands" if moved else "answer.table")


def given_week(view: WeeklyView, words: Words) -> str:
    """How often glucose was given, how much, and after how many treatments the level stood above 180."""
    week = view.given_week
    if not week.times_n:
        return words.say("week_given.none")
    said = [words.say("week_given.times", count=week.times_n, grams=words.grams(week.grams))]
    unknown = sum(day.amounts_unknown_n for day in view.days)
    if unknown:
        said = [words.say("week_given.times_only", count=week.times_n), words.say("days.unknown", count=unknown)]
    if week.treatments_n:
        said.append(words.say("week_given.treatments", count=week.treatments_n, used=week.used_n))
        if week.treatments_n != week.times_n:
            said.append(words.say("week_given.chained"))
        high = words.level(HIGH_ABOVE)
        code = "week_given.above" if week.above_180_n else "week_given.none_above"
        if view.coverage.readings_n:  # where nobody looked, nothing is known of what followed
            said.append(words.say(code, count=week.above_180_n, high=high))
    return " ".join(said)


def _questions(view: WeeklyView, words: Words, most: int) -> list[Block]:
    held = (words.say("question.held", count=view.files_held),) if view.files_held else ()
    waits = (*held, *_set_aside(view, words))
    shown = [question_sentence(question, words) for question in view.questions[:most]]
    rest = len(view.questions) - len(shown)
    more = "question.more" if shown else "question.waiting"
    told = (*waits, *shown, *((words.say(more, count=rest),) if rest else ()))
    if view.questions or len(told) > 1:
        return [Bullets(told)]
    return [Paragraph(told[0] if told else words.say("question.none"))]


def _set_aside(view: WeeklyView, words: Words) -> tuple[str, ...]:
    """How many lines count nowhere, the files they are of, and how to look at them: one sentence, or none."""
    if not view.set_aside:
        return ()
    files = [name[:MOST_LETTERS] for name in dict.fromkeys(each.file for each in view.set_aside)]
    named = ", ".join([*files[:MOST_FILES], *(["…"] if len(files) > MOST_FILES else [])])
    return (words.say("question.set_aside", count=sum(each.lines for each in view.set_aside), files=named),)
