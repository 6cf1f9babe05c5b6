"""The sentence on drift: how much, how much of it growth explains, how sure, and never a cause."""

from datetime import date

import polars as pl
import pytest
from support.level_people import person
from support.review_people import drift_line

from gramrise.domain.drift import FINDINGS
from gramrise.domain.frames import DRIFT
from gramrise.report.review.chapters.drift_words import drift_sentence, recomputed
from gramrise.report.review.numbers.drift_lines import drift_lines
from gramrise.report.words import words_for

ENGLISH, GERMAN = words_for("en", "mg/dL", "UTC"), words_for("de", "mg/dL", "UTC")
SIGNED_ON = date(2026, 5, 3)


def said(words=ENGLISH, **changed):
    line = drift_line(band="overnight", hours="22:00-07:00", reference_on=SIGNED_ON, **changed)
    return drift_sentence(line, words).replace("\u00a0", " ")


def test_what_moved_is_told_with_growths_part():
    assert said() == (
        "Overnight 22:00\u201307:00: 1 g raises 24% less than signed on 3 May 2026; 6% is growth, the rest is not "
        "explained by growth; 31 treatments since."
    )
    assert "1 g hebt 24 % weniger als am" in said(GERMAN)
    assert "6 % sind Wachstum, der Rest ist nicht durch Wachstum erklärt" in said(GERMAN)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"ratio": 1.2}, "growth alone would have lowered it by 6%, so growth does not explain it"),
        ({"growth_ratio": 1.0}, "growth does not explain it"),
        ({"finding": "held", "ratio": 0.94}, "6% is growth, more than 15 % beyond it is improbable"),
        ({"finding": "held", "ratio": 0.98}, "about as much as signed on 3 May 2026; growth alone would have lowered"),
        ({"finding": "undecided", "growth_ratio": 1.0}, "whether it has changed cannot be told yet"),
        ({"finding": "nothing_since"}, "no treatment could be used since 3 May 2026, so nothing can be said yet."),
        ({"signed": False}, "less than on 3 May 2026; "),
        ({"pairings_since": 1}, "1 treatment since."),
    ],
)
def test_each_finding_has_its_words(changed, expected):
    assert expected in said(**changed)


@pytest.mark.parametrize("finding", FINDINGS)
@pytest.mark.parametrize("growth", [0.94, 1.0, 1.06])
def test_every_finding_can_be_told_in_both_languages(finding, growth):
    told = [said(words, finding=finding, growth_ratio=growth) for words in (ENGLISH, GERMAN)]
    assert told[0] != told[1]
    assert all("{" not in each and each.endswith(".") for each in told)


def test_lines_stand_in_the_order_of_the_bands_and_leave_out_who_was_never_weighed():
    row = dict.fromkeys(DRIFT.schema, 1.0) | {
        "person_id": "mia", "reference_date": SIGNED_ON, "as_of_utc": None, "finding": "held", "shape": "none",
        "change_date": None, "change_date_p05": None, "change_date_p95": None, "pairings_since": 3,
        "pairings_before": 4,
    }  # fmt: skip
    frame = DRIFT.check(pl.DataFrame([row | {"band": "overnight"}, row | {"band": "daytime"}], schema=DRIFT.schema))
    assert [line.band for line in drift_lines(person(), frame)] == ["daytime", "overnight"]
    unweighed = frame.with_columns(growth_ratio=pl.lit(None, pl.Float64))
    assert drift_lines(person(), unweighed) == ()


def test_a_signed_number_that_today_would_be_another_is_told_beside_the_change():
    line = drift_line(ratio=1.02)
    told = recomputed(line, 5.0, 6.8, ENGLISH).replace("\u00a0", " ")
    assert told == "Signed was 5.0; by all that is known today, that day's number is 6.7 mg/dL."
    assert recomputed(line, 6.5, 6.8, ENGLISH) == ""
    assert recomputed(line, None, 6.8, ENGLISH) == ""
    assert recomputed(drift_line(ratio=1.02, signed=False), 5.0, 6.8, ENGLISH) == ""
