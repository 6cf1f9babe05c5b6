"""The card's words: complete in both languages, and never both units."""

import re
import string
import tomllib
from dataclasses import replace
from datetime import date, time, timedelta
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
    pairings,
    person,
)  # fmt: skip

from gramrise.domain.bands import TimeBand
from gramrise.domain.care_plan import CarePlan
from gramrise.domain.person import Dated
from gramrise.domain.sources import Form, Source
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.card.pages.face import face_of
from gramrise.report.card.pages.page import card_alt, card_text
from gramrise.report.card.pages.plain import ISOLATE, WIDTH
from gramrise.report.card.pages.withheld import withheld_sentences
from gramrise.report.words import LANGUAGES, words_for

WORDY = replace(
    PLAN,
    call_when="drowsy",
    glucagon="nasal, 3 mg",
    vomiting="come in after an hour",
    sport="half",
    illness="look every 2 hours",
)
AUTOMATED = person(replace(PLAN, automated_grams=6), delivery=always(Delivery.AUTOMATED))
FEW = pairings(daytime=5, overnight=7)
FAMILIES = {
    "own": lambda **who: card(who=person(**who)),
    "thin": lambda **who: card(BIG_PIECES, person(**who), used=FEW),
    "capped": lambda **who: card(
        LIQUID, person(replace(PLAN, most_grams=6.0, standard_grams=6.0), **who), factors(daytime=3.0)
    ),
    "heavy": lambda **who: card(
        GEL,
        person(replace(PLAN, below_54_grams=20), weights_kg=Dated(((TODAY, 90.0),)), **who),
        factors(weight_kg=90.0, daytime=1.2, overnight=1.1),
    ),
    "automated": lambda **who: card(GEL, replace(AUTOMATED, **who)),
    "three years old": lambda **who: card(
        LIQUID, person(replace(PLAN, approved_on=TODAY), born=TODAY - timedelta(days=1200), **who)
    ),
    "no standard grams": lambda **who: card(
        who=person(replace(PLAN, standard_grams=None, early_grams=None), **who), used=FEW
    ),
    "own words of the plan": lambda **who: card(who=person(WORDY, **who)),
    "for the school": lambda **who: card(for_school=True, who=person(**who)),
}
WITHHELD = {
    "no plan": lambda **who: card(who=person(CarePlan(), **who)),
    "no second look": lambda **who: card(who=person(replace(PLAN, second_grams=None), **who)),
    "expired": lambda **who: card(who=person(replace(PLAN, valid_until=date(2026, 1, 1)), **who)),
    "less below 54": lambda **who: card(who=person(replace(PLAN, below_54_grams=4), **who)),
    "limits crossed": lambda **who: card(who=person(replace(PLAN, most_grams=4), **who)),
    "far from the weight": lambda **who: card(who=person(replace(PLAN, standard_grams=1), **who)),
    "no weight": lambda **who: card(who=person(weights_kg=Dated(), **who)),
    "old weight": lambda **who: card(who=person(weights_kg=Dated(((date(2026, 1, 1), 32.0),)), **who)),
    "doubted": lambda **who: card(who=person(**who), in_doubt=("weight_doubted", "strength_doubted")),
    "unknown strength": lambda **who: card("sweets", person(**who)),
    "automated": lambda **who: card(who=person(delivery=always(Delivery.AUTOMATED), **who)),
    "old findings": lambda **who: card(who=person(**who), now_utc=NOW + timedelta(days=20)),
    "one year old": lambda **who: card(LIQUID, person(born=TODAY - timedelta(days=500), **who)),
    "three, pieces": lambda **who: card(who=person(born=TODAY - timedelta(days=1200), **who)),
    "four, unknown pieces": lambda **who: card(
        Source("bits", Form.UNKNOWN, grams_per_piece=1.0), person(born=TODAY - timedelta(days=1600), **who)
    ),
    "delivery changed": lambda **who: card(
        who=person(delivery=Dated(((date(2020, 1, 1), Delivery.PUMP), (TODAY, Delivery.INJECTIONS))), **who)
    ),
}


NONE_GIVES = "no whole number of pieces fits, one holds {}\u00a0g: take another source of glucose"


def read(language):
    """The card's words file as flat keys."""

    def flat(branch, at=""):
        for key, value in branch.items():
            if isinstance(value, dict):
                yield from flat(value, f"{at}{key}.")
            else:
                yield f"{at}{key}", value

    text = (files("gramrise.report") / "words" / f"card.{language}.toml").read_text("utf-8")
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
    for unit, other in (("mg/dL", "mmol"), ("mmol/L", "mg/dL")):
        view = FAMILIES[family](language=language, unit=GlucoseUnit(unit))
        assert view.withheld == ()
        told = card_text(view)
        assert max(len(line) for line in told.splitlines()) <= WIDTH
        assert other not in told
        assert "{" not in told


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("family", WITHHELD)
def test_where_there_is_no_card_each_reason_is_a_sentence_in_one_unit(family, language):
    for unit, other in (("mg/dL", "mmol"), ("mmol/L", "mg/dL")):
        view = WITHHELD[family](language=language, unit=GlucoseUnit(unit))
        assert view.withheld
        told = withheld_sentences(view)
        assert len(told) == 1 + len(view.withheld)
        assert not any(other in sentence or "{" in sentence for sentence in told)


def test_every_reason_for_no_card_is_met_by_a_family_here():
    met = {code for made in WITHHELD.values() for code in made().withheld}
    of_cells = {"estimate", "no_plan_amount", "piece_too_much", "piece_over_cap", "at_target"}
    known = {code.rsplit(".", 1)[1] for code in read("en") if code.startswith("on_card.withheld.")}
    assert met == known - of_cells
    assert withheld_sentences(card()) == ()


# A number after a word that only levels have, without a unit behind it.
BARE_LEVEL = re.compile(
    r"\b(?:[Bb]elow|[Uu]nder|[Uu]nter|Ab) \d{1,3}(?:[.,]\d)?(?![.,]?\d|[ \u00a0](?:mg/dL|mmol/L|years|Jahren))"
)


@pytest.mark.parametrize("unit", ["mg/dL", "mmol/L"])
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("family", FAMILIES)
def test_every_level_outside_the_table_whose_heading_names_the_unit_stands_with_it(family, language, unit):
    """A family may have one child in mmol/L and one in mg/dL, and a school nurse reads the line alone."""
    face = face_of(FAMILIES[family](language=language, unit=GlucoseUnit(unit)))
    lines = [face.no_early, *(line for note in face.notes.all for line in note.lines)]
    if face.school is not None:
        lines += [face.school.when, face.school.below_54]
    said = "\n".join(lines)
    assert f"\u00a0{unit}" in said
    assert BARE_LEVEL.findall(said) == []
    assert unit in face.alt or face.school is not None


def test_german_numbers_have_a_comma_and_german_dates_are_german():
    told = card_text(card(who=person(language="de", unit=GlucoseUnit.MMOL_L)))
    assert "3,0–3,4" in told
    assert "Erstellt am 24. November 2026" in told
    assert "0,92" in told
    assert not re.search(r"\d\.\d", told)


def test_the_strength_is_told_as_it_is():
    assert face_of(card()).source == "For pieces of 0.92\u00a0g glucose"
    assert face_of(card(LIQUID)).source == "For liquid with 2.5\u00a0g glucose in 10\u00a0mL"
    assert face_of(card("sweets")).source == "For glucose of unknown strength"


def test_a_strength_nobody_stated_is_marked_as_perhaps_weaker():
    assert "9\u00a0% weaker" in face_of(card(Source("tin", Form.TABLET, grams_per_piece=0.92))).source_notes
    assert face_of(card()).source_notes == ""


def test_a_bottle_mixed_at_home_asks_for_the_date_on_it():
    assert face_of(card(LIQUID)).source_notes == "home-mixed: check the date on the bottle"
    assert face_of(card(replace(LIQUID, sealed=True))).source_notes == ""


def test_a_thin_band_says_that_it_is_still_learning_and_exactly_what_is_missing():
    told = [band.measured for band in face_of(card(used=pairings(daytime=5, overnight=7))).pages[0].bands]
    assert told == [
        "still learning; lacks: 3 more treatments by day",
        "still learning; lacks: 1 more treatment by night",
    ]
    german = face_of(card(who=person(language="de"), used=pairings(daytime=5, overnight=14))).pages[0].bands
    assert german[0].measured == "lernt noch; es fehlen: 3 weitere Gaben am Tag"


def test_an_own_band_names_the_number_of_the_report_and_how_often_it_was_measured():
    told = [band.measured for band in face_of(card()).pages[0].bands]
    assert told[0] == "1\u00a0g raises about 9.0; measured: 21 treatments"
    assert "table" not in card_text(card())


def test_below_54_stands_the_plans_amount_in_pieces_and_grams_with_the_finger_stick():
    below = face_of(card()).below_54
    assert (below.reading, below.amount, below.grams) == ("below 54", "11\u00a0pieces", "10\u00a0g")
    assert (below.plan, below.finger) == ("as the care plan says", "Finger-stick. Do not leave alone.")
    in_grams = face_of(card(BIG_PIECES)).below_54
    assert (in_grams.amount, in_grams.grams) == ("10\u00a0g", "")
    mmol = face_of(card(who=person(unit=GlucoseUnit.MMOL_L))).below_54
    assert mmol.reading == "below 3.0"


def test_grams_that_no_whole_pieces_come_close_to_stand_with_one_number_of_pieces():
    """Who reads it at 3 a.m. must not choose; of two numbers just as near the larger stands, as below 70."""
    near = "3\u00a0pieces: 12\u00a0g"
    face = face_of(card(BIG_PIECES, used=FEW))
    assert (face.below_54.amount, face.below_54.near) == ("10\u00a0g", near)
    assert face.notes.instead.endswith(f"standard amount now: 10\u00a0g ({near}).")
    assert any(f", 10\u00a0g ({near})." in line for line in face.notes.then.lines)
    cell = face.pages[0].rows[0].cells[0]
    assert (cell.amount, cell.grams, cell.near) == ("10\u00a0g", "", near)
    assert near.replace("\u00a0", " ") in card_text(card(BIG_PIECES)).replace("\u00a0", " ")
    huge = face_of(card(replace(BIG_PIECES, grams_per_piece=13.0)))
    assert huge.below_54.near == "1\u00a0piece: 13\u00a0g"
    twice = face_of(card(replace(BIG_PIECES, grams_per_piece=15.5)))
    assert twice.below_54.near == NONE_GIVES.format("15.5")
    counted = face_of(card())
    assert (counted.below_54.amount, counted.below_54.near) == ("11\u00a0pieces", "")
    liquid = face_of(card(LIQUID))
    assert liquid.below_54.near == ""


@pytest.mark.parametrize(
    ("most", "near"),
    [
        (12.0, "3\u00a0pieces: 12\u00a0g"),
        (11.9, "2\u00a0pieces: 8\u00a0g"),
        (None, "3\u00a0pieces: 12\u00a0g"),
    ],
)
def test_pieces_that_hold_more_than_the_plan_ever_gives_are_not_offered(most, near):
    face = face_of(card(BIG_PIECES, person(replace(PLAN, most_grams=most)), used=FEW))
    assert face.pages[0].rows[0].cells[0].near == near
    assert near in face.notes.instead


@pytest.mark.parametrize(
    ("ordered", "piece_g", "kg", "below_70", "below_54"),
    [
        (12.0, 4.73, 32.0, "3\u00a0pieces: 14.2\u00a0g", "3\u00a0pieces: 14.2\u00a0g"),
        (11.0, 4.73, 32.0, "2\u00a0pieces: 9.5\u00a0g", "3\u00a0pieces: 14.2\u00a0g"),  # nearer, and at least
        (15.0, 10.0, 60.0, "1\u00a0piece: 10\u00a0g", NONE_GIVES.format("10")),  # two would be over 0.3 g per kg
        (11.0, 9.0, 60.0, "1\u00a0piece: 9\u00a0g", NONE_GIVES.format("9")),  # two hold over half as much again
        (8.0, 4.73, 28.4, NONE_GIVES.format("4.7"), NONE_GIVES.format("4.7")),  # two over 0.3 g per kg, one too little
    ],
)
def test_below_54_never_fewer_pieces_than_the_plan_orders_and_never_more_than_plan_and_caps_allow(
    ordered, piece_g, kg, below_70, below_54
):
    plan = replace(PLAN, standard_grams=ordered, below_54_grams=ordered, second_grams=ordered)
    who = person(plan, weights_kg=Dated(((TODAY, kg),)))
    view = card(replace(BIG_PIECES, grams_per_piece=piece_g), who, factors(weight_kg=kg), used=FEW)
    face = face_of(view)
    assert view.withheld == ()
    assert (face.pages[0].rows[0].cells[0].near, face.below_54.near) == (below_70, below_54)


def test_pieces_that_hold_less_than_the_plans_least_are_not_offered_for_it():
    who = person(replace(PLAN, standard_grams=11, below_54_grams=11, least_grams=10))
    face = face_of(card(replace(BIG_PIECES, grams_per_piece=4.73), who, used=FEW))
    assert face.pages[0].rows[0].cells[0].near == "3\u00a0pieces: 14.2\u00a0g"


def test_a_piece_far_above_the_plans_amount_is_never_offered_for_it():
    """A tube of 10 g beside a plan of 4, 6 below 54 and never more than 6 at first: once it stood in every row."""
    small = {"standard_grams": 4.0, "below_54_grams": 6.0, "least_grams": 3.0, "most_grams": 6.0, "second_grams": 4.0}
    plan = replace(PLAN, early_grams=None, **small)
    text = card_text(card(replace(BIG_PIECES, grams_per_piece=10.0), person(plan), used=FEW)).replace("\u00a0", " ")
    assert "take another source" in " ".join(text.split())
    assert "1 piece: 10 g" not in text


def test_with_automated_delivery_the_amounts_are_called_the_plans():
    face = face_of(card(who=AUTOMATED))
    assert {band.measured for band in face.pages[0].bands} == {"with automated delivery"}
    assert face.pages[0].rows[0].cells[0].expect == "the care plan’s amount"


def test_the_card_says_who_approved_the_plan_until_when_and_when_the_child_was_weighed():
    face = face_of(card())
    assert face.approved == (
        "Care plan approved by Dr. A. Lind, paediatric diabetologist, 1 September 2026; valid until 1 March 2027"
    )
    assert face.weighed == "Weighed 32.0\u00a0kg on 24 November 2026"
    nobody = face_of(card(who=person(replace(PLAN, approved_by=""))))
    assert nobody.approved == "Who approved the care plan, and when, is not written down"


def test_where_the_card_does_not_hold_it_says_what_to_do_instead():
    notes = face_of(card()).notes
    assert notes.not_for.lines == (
        "falling 1\u00a0mg/dL a minute or more",
        "rapid insulin in the last 3 hours",
        "sport today and the night after",
        "illness",
        "automated insulin delivery",
    )
    assert notes.instead == ("Then: finger-stick, and give the plan’s standard amount now: 10\u00a0g (11\u00a0pieces).")
    bare = replace(PLAN, standard_grams=None)
    assert "do now what the care plan says" in face_of(card(who=person(bare))).notes.instead


def test_after_fifteen_minutes_comes_a_finger_stick_and_the_plans_second_amount():
    plan = replace(PLAN, second_grams=5, look_again_minutes=10)
    assert face_of(card(who=person(plan))).notes.then.lines == (
        "Look again after 10\u00a0minutes by finger-stick: the sensor lags on the rise.",
        "Still below 70\u00a0mg/dL: the plan’s second amount, 4.6\u00a0g, plan 5\u00a0g (5\u00a0pieces).",
        "Still below 70\u00a0mg/dL after two amounts, or drowsy: get help.",
    )


@pytest.mark.parametrize("unknown", ["look_again_minutes", "second"])
def test_without_the_plans_second_look_or_amount_the_guidelines_words_stand(unknown):
    """Such a card is withheld; were it shown, it must not print half of a plan."""
    view = card()
    bare = view.model_copy(update={"plan": view.plan.model_copy(update={unknown: None})})
    (line,) = face_of(bare).notes.then.lines[:1]
    assert line == words_for("en", "mg/dL", "UTC").say("caution.look_again", level="70")
    assert not any("second amount" in each for each in face_of(bare).notes.then.lines)


def test_readings_above_the_last_row_get_no_amount():
    allowed = face_of(card()).no_early
    refused = face_of(card(who=person(replace(PLAN, early_grams_allowed=False)))).no_early
    assert (allowed[:12], refused[:12]) == ("80\u00a0mg/dL and", "70\u00a0mg/dL and")


def test_hours_on_several_sheets_are_counted_and_those_on_one_are_not():
    view = card()
    assert [page.part for page in face_of(view).pages] == [""]
    four = view.model_copy(update={"bands": view.bands * 2, "rows": ()})
    assert [page.part for page in face_of(four).pages] == ["Hours 1 of 2", "Hours 2 of 2"]


def test_a_sleeping_child_is_woken_sat_up_and_not_left():
    asleep = " ".join(face_of(card()).notes.asleep.lines)
    for part in ("Rouse and sit up", "Answers to the name", "test sip", "until the next look", "rinse with water",
                 "lying down or running"):  # fmt: skip
        assert part in asleep
    assert "hard sweets" not in asleep
    four = person(replace(PLAN, approved_on=TODAY), born=TODAY - timedelta(days=1600))
    assert "Under 5 years no hard sweets" in " ".join(face_of(card(who=four)).notes.asleep.lines)


def test_vomiting_says_ketones_and_basal_insulin_and_then_the_plans_own_words():
    sick = face_of(card(who=person(WORDY))).notes.sick.lines
    assert "Check ketones even when the level is low; basal insulin is never stopped without the team" in sick[0]
    assert sick[1:] == ("come in after an hour", "Sport and the night after: half", "Illness: look every 2 hours")
    call = face_of(card(who=person(WORDY))).notes.contacts.lines
    assert call == (*PLAN.contacts, "Call when: drowsy")
    assert "Glucagon: nasal, 3 mg" in face_of(card(who=person(WORDY))).notes.emergency.lines


def test_every_card_carries_the_cautions_of_its_kind():
    def all_lines(view):
        face = face_of(view)
        return " ".join([face.source_care, *(line for note in face.notes.all for line in note.lines)])

    always_there = (
        "nothing by mouth", "Look again after 15\u00a0minutes", "Still below 70\u00a0mg/dL after two amounts",
        "Vomiting", "finger-stick", "wash sugar off", "not certified as a medical device", "second amount",
    )  # fmt: skip
    at_home = ("not an order", "insulin in the last 3 hours", "sport today", "illness", "falling 1\u00a0mg/dL")
    for view, parts in ((card(), always_there + at_home), (card(for_school=True), always_there)):
        for part in parts:
            assert part in all_lines(view)
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
    assert "54–61, Daytime 07:00–22:00: 8\u00a0pieces" in alt
    assert alt.count("expect about") == 5
    assert alt.count("the care plan’s amount") == 1  # 11 pieces, where the cap alone would leave 10


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


def test_what_computed_amounts_aim_at_is_said_where_there_are_computed_amounts_and_nowhere_else():
    said = {name: " ".join(card_text(FAMILIES[name]()).split()) for name in ("own", "thin")}
    assert "Computed amounts aim at" in said["own"]
    assert "Computed amounts aim at" not in said["thin"]


@pytest.mark.parametrize(("ordered", "told"), [(4.74, "4.74\u00a0g"), (4.75, "4.6\u00a0g, plan 4.75\u00a0g")])
def test_grams_that_pieces_hold_are_told_beside_the_plans_from_three_parts_in_a_hundred_on(ordered, told):
    """Five pieces of 0.92 g hold 4.6 g: 2.95 and 3.16 % less than ordered; our choice."""
    plan = replace(PLAN, second_grams=ordered, look_again_minutes=10)
    line = face_of(card(who=person(plan))).notes.then.lines[1]
    assert line == f"Still below 70\u00a0mg/dL: the plan’s second amount, {told} (5\u00a0pieces)."


def test_only_a_liquid_that_is_not_sealed_is_home_mixed():
    """A tin of tablets is open, too, and a bottle from the shop is a liquid: neither was mixed at home."""
    open_tablets, sealed_liquid = replace(SMALL_PIECES, sealed=False), replace(LIQUID, sealed=True)
    assert "home_mixed" in card(LIQUID).source_cautions
    assert "home_mixed" not in card(open_tablets, who=person(sources=always((open_tablets,)))).source_cautions
    assert "home_mixed" not in card(sealed_liquid, who=person(sources=always((sealed_liquid,)))).source_cautions


def test_two_bands_stand_on_a_page_and_the_third_on_the_next():
    starts = (time(6), time(14), time(22), time(6))
    three = tuple(TimeBand(name, *starts[at : at + 2]) for at, name in enumerate(("early", "late", "night")))
    assert [len(page.bands) for page in face_of(card(who=person(bands=always(three)))).pages] == [2, 1]
