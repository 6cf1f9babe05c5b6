"""Words: complete in both languages, right for the place, and only those of the trade."""

import ast
import re
import string
from datetime import UTC, datetime
from pathlib import Path

import pytest

import gramrise.report
from gramrise.domain.outcomes import EVIDENCE, OUTCOMES
from gramrise.domain.reasons import REASONS
from gramrise.estimate.answer.missing_log import SENTENCES
from gramrise.intake.rows.amount_questions import AMOUNT_QUESTIONS
from gramrise.report.words import LANGUAGES, NoSuchWords, table, words_for
from gramrise.store.ingest.file_owner import WHOSE_FILE
from gramrise.store.questions.kinds import MAYBE_TWICE, PIECES_OR_GRAMS, REPLACED

ROOM = Path(gramrise.report.__file__).parent
LOWER_FLOORS = {"reason": REASONS, "outcome": OUTCOMES, "evidence": EVIDENCE, "log_next": SENTENCES}


def _modules():
    """The modules that say the report's words; the card's are tested with the card."""
    return [*ROOM.glob("*.py"), *(ROOM / "weekly").rglob("*.py")]


def _own(language):
    """The report's words without those of the lower floors; the card's are tested with the card."""
    return {c: w for c, w in table(language).items() if c.split(".")[0] not in {*LOWER_FLOORS, "on_card"}}


def _values(words):
    """The names in braces of a sentence; `count` may be spelled out in one of two plural forms."""
    told = [words] if isinstance(words, str) else list(words.values())
    return {name for text in told for _, name, _, _ in string.Formatter().parse(text) if name}


def test_every_sentence_exists_in_both_languages_with_the_same_values():
    english, german = _own("en"), _own("de")
    assert english.keys() == german.keys()
    assert {c for c in english if _values(english[c]) != _values(german[c])} == set()
    assert {c for c in english if isinstance(english[c], dict) != isinstance(german[c], dict)} == set()


@pytest.mark.parametrize("kind", LOWER_FLOORS)
def test_every_reason_outcome_evidence_and_missing_log_has_its_german_sentence(kind):
    told = {code.partition(".")[2] for code in table("de") if code.startswith(f"{kind}.")}
    assert told == set(LOWER_FLOORS[kind])


def test_every_code_that_the_report_says_has_words():
    calls = [call for file in _modules() for call in ast.walk(ast.parse(file.read_text("utf-8")))]
    said = [call.args[0] for call in calls if isinstance(call, ast.Call) and getattr(call.func, "attr", "") == "say"]
    told = {str(part.value) for first in said for part in ast.walk(first) if isinstance(part, ast.Constant)}
    whole = {code for code in told if re.fullmatch(r"[a-z_]+\.[a-z_0-9]+", code)}
    assert len(whole) > 40
    assert whole - table("en").keys() == set()


def test_no_sentence_of_the_report_is_left_unsaid():
    source = "\n".join(file.read_text("utf-8") for file in _modules())
    unsaid = {
        code
        for code in _report_codes()
        if code not in source and f"{code.rpartition('.')[0]}.{{" not in source and not _told_by_column(code)
    }
    assert unsaid == set()


def _report_codes():
    import tomllib

    from gramrise.report.words import flat_words

    return dict(flat_words(tomllib.loads((ROOM / "words" / "en.toml").read_text("utf-8")), ""))


def _told_by_column(code):
    """Bands, columns and date forms are looked up by name."""
    return code.split(".")[0] in {"band", "column", "date"}


@pytest.mark.parametrize(
    ("language", "forbidden"),
    [
        ("en", r"\bdoses?\b|\bfactors?\b|\bhypos?\b|\bhypogly\w*|\bsugar\b(?! off)|\btime in range\b|\bunits of\b"),
        ("de", r"\bDosis\b|\bDosen\b|\bFaktor\w*|\bHypos?\b|\bZeit im Zielbereich\b"),
    ],
)
def test_only_the_words_of_the_trade_are_used(language, forbidden):
    """In this household "dose" is insulin; "factor" alone says nothing to a parent."""
    told = [w if isinstance(w, str) else " ".join(w.values()) for w in table(language).values()]
    told = [re.sub(r"\{\w+\}", "", text) for text in told]
    assert [text for text in told if re.search(forbidden, text)] == []


def test_nothing_in_the_words_advises_on_insulin():
    told = " ".join(w if isinstance(w, str) else " ".join(w.values()) for w in table("en").values())
    assert re.search(r"(give|take|reduce|increase|less|more|stop|skip) (rapid |basal )?insulin", told, re.I) is None


def test_numbers_and_dates_are_written_as_the_place_writes_them():
    german = words_for("de-AT", "mmol/L", "Europe/Vienna")
    english = words_for("en", "mg/dL", "America/Chicago")
    at = datetime(2026, 11, 17, 1, 10, tzinfo=UTC)
    assert (german.number(1234.5, 1), english.number(1234.5, 1)) == ("1.234,5", "1,234.5")
    assert (german.level(58), english.level(58)) == ("3,2", "58")  # 58 / 18.0156 = 3.219
    assert german.when(at) == "Di.\u00a017.\u00a0Nov. 02:10"
    assert english.when(at) == "Mon\u00a016\u00a0Nov 19:10"
    assert english.number(-22) == "−22"


def test_a_rise_is_told_in_two_figures_and_its_ends_in_the_same_decimals():
    mg, mmol = words_for("en", "mg/dL", "UTC"), words_for("de", "mmol/L", "UTC")
    assert mg.factor(7.06, 5.63, 8.8) == ("7.1", "5.6", "8.8")
    assert mg.factor(11.6, 7.9, 16.4) == ("12", "8", "16")
    assert mmol.factor(7.06, 5.63, 8.8) == ("0,39", "0,31", "0,49")


def test_one_and_many_are_told_apart():
    words = words_for("en", "mg/dL", "UTC")
    assert [words.say("change.lows_first", count=n) for n in (1, 2)] == ["1 low this week.", "2 lows this week."]


def test_a_number_is_never_parted_from_its_unit():
    said = words_for("en", "mg/dL", "UTC").say("strips.night_grams", grams="6")
    assert said == "6\u00a0g of glucose"


def test_a_language_not_written_yet_is_told_in_english():
    assert words_for("fr", "mg/dL", "UTC").language == "en"
    assert {words_for(language, "mg/dL", "UTC").language for language in LANGUAGES} == {"en", "de"}


def test_a_missing_word_or_value_is_named():
    words = words_for("en", "mg/dL", "UTC")
    with pytest.raises(NoSuchWords, match=r"no\.such"):
        words.say("no.such")
    with pytest.raises(NoSuchWords, match=r"answer\.likely needs 'low'"):
        words.say("answer.likely", high="3")


def test_every_kind_of_question_has_words_that_name_nobody():
    kinds = {*AMOUNT_QUESTIONS, "weight_jump", "weight_for_age", WHOSE_FILE, REPLACED, PIECES_OR_GRAMS, MAYBE_TWICE}
    assert {kind for kind in kinds if f"question.{kind}" not in table("en")} == set()
    assert "other" not in {name for kind in kinds for name in _values(table("en")[f"question.{kind}"])}


@pytest.mark.parametrize(("probability", "told"), [(0.0, "under 1%"), (0.06, "6%"), (0.999, "over 99%")])
def test_what_is_judged_from_readings_is_never_told_as_certain(probability, told):
    assert words_for("en", "mg/dL", "UTC").chance(probability) == told
