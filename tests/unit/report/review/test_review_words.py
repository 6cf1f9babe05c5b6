"""The review's words: every code that is said has a sentence, and no sentence is left unsaid."""

import ast
import re
import tomllib
from pathlib import Path

import gramrise.report.review
from gramrise.domain.reasons import REASONS
from gramrise.report.words import flat_words, table

ROOM = Path(gramrise.report.review.__file__).parent
WORDS = ROOM.parent / "words" / "review.en.toml"
# Looked up by a code that the numbers carry.
BY_CODE = {"delivery", "form", "danger_of", "happened", "holds_not", "plan_amount", "strength", "date", "reason_clinic"}


def _modules():
    return list(ROOM.rglob("*.py"))


def test_every_code_that_the_review_says_has_words():
    calls = [call for file in _modules() for call in ast.walk(ast.parse(file.read_text("utf-8")))]
    said = [call.args[0] for call in calls if isinstance(call, ast.Call) and getattr(call.func, "attr", "") == "say"]
    told = {str(part.value) for first in said for part in ast.walk(first) if isinstance(part, ast.Constant)}
    whole = {code for code in told if re.fullmatch(r"[a-z_]+\.[a-z_0-9]+", code)}
    assert len(whole) > 80
    assert whole - table("en").keys() == set()


def test_no_sentence_of_the_review_is_left_unsaid():
    source = "\n".join(file.read_text("utf-8") for file in _modules())
    codes = [code for code, _ in flat_words(tomllib.loads(WORDS.read_text("utf-8")), "")]
    unsaid = {
        code
        for code in codes
        if code not in source and f"{code.rpartition('.')[0]}.{{" not in source and code.split(".")[0] not in BY_CODE
    }
    assert len(codes) > 150
    assert unsaid == set()


def test_every_reason_has_its_german_sentence_for_the_clinic():
    told = {code.partition(".")[2] for code in table("de") if code.startswith("reason_clinic.")}
    assert told == set(REASONS)
