"""The card's words: complete in both languages, and never both units."""

import re
import string
import tomllib
from dataclasses import replace
from datetime import timedelta
from importlib.resources import files

import pytest
from support.card_people import (
    BIG_PIECES,
    GEL,
    LIQUID,
    NOW,
    PLAN,
    SMALL_PIECES,
    TODAY,
    always,
    card,
    factors,
    person,
)  # fmt: skip

from gramrise.domain.person import CarePlan, Dated
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.card.face import face_of
from gramrise.report.card.page import card_alt, card_text
from gramrise.report.card.plain import ISOLATE, WIDTH
from gramrise.report.words import LANGUAGES

AUTOMATED = person(replace(PLAN, card_with_automated=True), delivery=always(Delivery.AUTOMATED))
FAMILIES = {
    "own": (SMALL_PIECES, person(), factors()),
    "thin": (BIG_PIECES, person(), factors(state="thin")),
    "capped": (LIQUID, person(replace(PLAN, most_grams=6.0)), factors(daytime=3.0)),
    "heavy": (GEL, person(weights_kg=Dated(((TODAY, 90.0),))), factors(weight_kg=90.0, daytime=1.2, overnight=1.1)),
    "withheld": ("sweets", person(CarePlan()), factors(weight_kg=None, state="withheld")),
    "automated": (GEL, AUTOMATED, factors()),
    "automated without the plan": (GEL, replace(AUTOMATED, care_plan=always(PLAN)), factors()),
    "three years old": (SMALL_PIECES, person(born=TODAY - timedelta(days=1200)), factors()),
    "one year old": (LIQUID, person(born=TODAY - timedelta(days=500)), factors()),
    "nothing": (SMALL_PIECES, person(CarePlan(), name="", weights_kg=Dated()), factors().clear()),
}


def read(language):
    """The card's words file as flat keys."""

    def flat(branch, at=""):
        for key, value in branch.items():
            if isinstance(value, dict):
                yield from flat(value, f"{at}{key}.")
            else:
                yield f"{at}{key}", value

    text = (files("gramrise.report.card") / "words" / f"{language}.toml").read_text("utf-8")
    return dict(flat(tomllib.loads(text)))


def test_both_languages_have_the_same_words_with_the_same_values():
    english, german = read("en"), read("de")
    assert list(english) == list(german)
    for code, sentence in english.items():
        fields = [
            {name for _, name, _, _ in string.Formatter().parse(text) if name} for text in (sentence, german[code])
        ]
        # English names the minutes of the look in the line of the top, German in the line before it.
        if not code.startswith(("on_card.expect", "on_card.top")) or code == "on_card.expect_note":
            assert fields[0] == fields[1], code


def test_no_sentence_says_bare_dose_or_factor():
    assert LANGUAGES
    for language in LANGUAGES:
        text = " ".join(read(language).values()).lower()
        assert text
        assert not re.search(r"\b(dose|doses|factor|factors|dosis|faktor)\b", text)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_can_be_told_in_80_columns_and_in_one_unit(family, language):
    source, who, found = FAMILIES[family]
    for unit, other in (("mg/dL", "mmol"), ("mmol/L", "mg/dL")):
        told = card_text(card(source, replace(who, language=language, unit=GlucoseUnit(unit)), found))
        assert max(len(line) for line in told.splitlines()) <= WIDTH
        assert other not in told
        assert "{" not in told


def test_german_numbers_have_a_comma_and_german_dates_are_german():
    told = card_text(card(who=person(language="de", unit=GlucoseUnit.MMOL_L)))
    assert "3,0–3,2" in told
    assert "Erstellt am 24. November 2026" in told
    assert "0,92" in told
    assert not re.search(r"\d\.\d", told)


def test_the_strength_is_told_as_it_is():
    assert face_of(card()).source == "For pieces of 0.92\u00a0g glucose"
    assert face_of(card(LIQUID)).source == "For liquid with 2.5\u00a0g glucose in 10\u00a0mL"
    assert face_of(card("sweets")).source == "For glucose of unknown strength"


def test_a_strength_nobody_stated_is_marked_as_perhaps_weaker():
    from gramrise.domain.sources import Form, Source

    assert "9\u00a0% weaker" in face_of(card(Source("tin", Form.TABLET, grams_per_piece=0.92))).source_notes
    assert face_of(card()).source_notes == ""


def test_a_thin_band_says_not_yet_measured_and_a_withheld_one_says_why_once():
    assert {band.measured for band in face_of(card(found=factors(state="thin"))).pages[0].bands} == {"not yet measured"}
    withheld = face_of(card("sweets")).pages[0].bands
    assert {band.instead for band in withheld} == {
        "Nobody has told how many grams of glucose this holds. Follow the care plan."
    }


def test_the_school_sees_who_approved_whom_to_call_and_where_glucagon_is_even_where_nobody_said():
    told = face_of(card(for_school=True))
    assert told.approved == "Care plan approved by Dr. A. Lind, 1 September 2026"
    assert told.notes.contacts.lines == PLAN.contacts
    assert told.notes.emergency.lines[1] == "Glucagon is kept: red bag, top shelf"
    empty = face_of(card(who=person(CarePlan()), for_school=True))
    assert empty.approved == "Not approved"
    assert empty.notes.contacts.lines == ("No telephone number is stored.",)
    assert empty.notes.emergency.lines[1] == "Where glucagon is kept is not stored."
    undated = face_of(card(who=person(CarePlan(approved_by="Dr. A. Lind")), for_school=True))
    assert undated.approved == "Care plan approved by Dr. A. Lind, date not stored"


def test_every_card_carries_the_cautions_of_its_kind():
    def all_lines(view):
        face = face_of(view)
        return " ".join([face.source_care, *(line for note in face.notes.all for line in note.lines)])

    for view in (card(), card("sweets"), card(for_school=True)):
        told = all_lines(view)
        for part in (
            "nothing by mouth", "Look again after 15 minutes", "Still below 70 after two amounts", "Vomiting",
            "finger-stick", "wash sugar off", "not an order", "not certified as a medical device",
            "A second amount only as the care plan says", "insulin in the last 2 hours", "sport",
            "illness", "falling fast",
        ):  # fmt: skip
            assert part in told
    assert "never put it into the cheek" in all_lines(card(GEL))
    assert "food without a tested process" in all_lines(card(LIQUID))
    assert "food without a tested process" not in all_lines(card())
    assert "belongs to that system" in all_lines(card(who=AUTOMATED))


def test_the_emergency_number_of_the_house_is_printed_where_one_is_set():
    from gramrise.report.card.settings import SHIPPED_SETTINGS

    view = card(settings=SHIPPED_SETTINGS.model_copy(update={"emergency_number": "112"}))
    assert "call 112." in face_of(view).notes.emergency.lines[0]


def test_the_weights_that_end_the_card_are_rounded_to_end_it_sooner_not_later():
    view = card(found=factors(weight_kg=32.3), who=person(weights_kg=Dated(((TODAY, 32.3),))))
    # 95 % of 32.3 is 30.685, 105 % is 33.915.
    assert "30.7\u00a0kg or less or 33.9\u00a0kg or more" in face_of(view).notes.void.lines[0]


def test_a_name_written_from_right_to_left_is_kept_apart_from_its_line():
    told = card_text(card(who=person(name="נועה בן־דוד")))
    assert f"{ISOLATE[0]}נועה בן־דוד{ISOLATE[1]}, born" in told


def test_the_picture_can_be_read_aloud():
    alt = card_alt(card())
    assert alt.startswith("Glucose card 12, Mira Okafor. For pieces of 0.92\u00a0g glucose. For the first amount only.")
    assert "54–59, Daytime 07:00–22:00: 6\u00a0pieces" in alt
    assert alt.count("expect about") == 8


def test_findings_are_dated_in_the_footer():
    assert face_of(card(now_utc=NOW + timedelta(days=3))).footer.endswith("findings of 24 November 2026")


def test_the_weekly_report_has_words_for_every_reason_that_ends_a_card():
    from gramrise.report.words import table

    assert LANGUAGES
    for language in LANGUAGES:
        ends = {code.rsplit(".", 1)[1] for code in read(language) if code.startswith("on_card.void.")}
        assert ends
        assert {f"card_line.because.{code}" for code in ends} <= set(table(language))


def test_no_words_of_the_card_overwrite_words_of_the_report():
    assert LANGUAGES
    for language in LANGUAGES:
        assert read(language)
        assert all(code.startswith("on_card.") for code in read(language))
