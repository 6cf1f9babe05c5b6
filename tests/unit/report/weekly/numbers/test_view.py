"""The view: what the report says, in numbers and codes; kept as golden files and checked by hand where it matters."""

import json
import os
import re
from dataclasses import replace
from datetime import date, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from support.report_people import BERLIN, BORN, FOUR_BANDS, NOW, WEEK_END, Case, a_week, everyone, factors, person

from gramrise.domain.bands import DEFAULT_BANDS, TimeBand
from gramrise.domain.batch import Question
from gramrise.domain.frames import EVENTS
from gramrise.domain.person import Dated
from gramrise.report.weekly.chapters.document import Picture, Table
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.chapters.week_picture import week_picture
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.pages.plain_text import render_text
from gramrise.report.words import words_for

GOLDEN = Path(__file__).parent / "golden"
PEOPLE = everyone()
# Set to 1 to write the golden files anew; then read what changed before it is committed.
REWRITE = os.environ.get("GRAMRISE_REWRITE_GOLDEN") == "1"


def _told(view: WeeklyView) -> str:
    """The view as JSON, its long traces by their number of points. These people were found by no model."""
    whole = view.model_dump(mode="json") | {"model_version": "of these people"}
    for strip in whole["strips"]:
        strip["trace"] = [len(piece) for piece in strip["trace"]]
        strip["paths"] = [len(path) for path in strip["paths"]]
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


@pytest.mark.parametrize("name", ["plain", "german_mmol_60_lows", "no_data", "three_automated_unknown_strength"])
@pytest.mark.parametrize("kind", ["json", "txt"])
def test_the_report_says_what_it_said_when_someone_last_read_it(name, kind):
    view = PEOPLE[name].view()
    told = _told(view) if kind == "json" else render_text(view)
    file = GOLDEN / f"{name}.{kind}"
    if REWRITE:
        file.write_text(told, encoding="utf-8")
    assert told == file.read_text("utf-8")


@pytest.mark.parametrize(("language", "heading"), [("en", "On a new card"), ("de", "Auf einer neuen Karte")])
def test_the_letter_says_what_a_new_card_would_print_whatever_card_is_out(language, heading):
    """The only card out may print the plan's grams while the number has become the person's own since."""
    words = words_for(language, "mg/dL", "UTC")
    view = PEOPLE["plain"].view().model_copy(update={"language": language})
    tables = [b for b in document_of(view).blocks if isinstance(b, Table) and heading in b.head]
    states = [row.cells[-1] for row in tables[0].rows]
    assert states == [words.say(f"state.{factor.state}") for factor in view.factors]
    assert ("a new card" if language == "en" else "eine neue Karte") in words.say("answer.withheld", count=3)


@pytest.mark.parametrize(
    ("language", "typed", "weighed_on", "told"),
    [
        ("en", 29.6, date(2026, 9, 1), "from body weight (about 30.0\u00a0kg, estimated from the last weighing)"),
        ("de", 29.6, date(2026, 9, 1), "aus dem Körpergewicht (etwa 30,0\u00a0kg, geschätzt aus der letzten Wägung)"),
        ("en", 30.0, WEEK_END, "from body weight (30.0\u00a0kg)"),
        ("de", 30.0, WEEK_END, "aus dem Körpergewicht (30,0\u00a0kg)"),
    ],
)
def test_a_weight_that_nobody_typed_is_called_estimated_and_one_that_was_weighed_is_not(
    language, typed, weighed_on, told
):
    """A family that typed 28.4 kg read 28.5 kg in its letter: growth since, which the letter did not say."""
    who = person(language=language, weights_kg=Dated(((weighed_on, typed),)))
    case = replace(PEOPLE["plain"], inputs=replace(PEOPLE["plain"].inputs, person=who))
    assert told in " ".join(document_of(case.fresh_view()).texts())


@pytest.mark.parametrize(
    ("language", "why"),
    [("en", "with a measured rise; the table counts all"), ("de", "gemessenem Anstieg; die Tabelle zählt alle")],
)
def test_where_the_table_counts_more_treatments_than_the_picture_draws_the_letter_says_why(language, why):
    case = PEOPLE["plain"]
    view = case.view().model_copy(update={"language": language})
    counts = [(factor.pairings_used, len(factor.single_mg_dl_per_g)) for factor in view.factors]
    assert any(table != drawn for table, drawn in counts)
    picture = next(
        block for block in document_of(view).blocks if isinstance(block, Picture) and block.name == "factors"
    )
    assert why in picture.caption
    assert why in picture.alt
    alike = tuple(f.model_copy(update={"pairings_used": len(f.single_mg_dl_per_g)}) for f in view.factors)
    same = document_of(view.model_copy(update={"factors": alike}))
    assert why not in " ".join(same.texts())


@pytest.mark.parametrize("name", PEOPLE)
def test_a_view_comes_back_whole_from_its_json(name):
    view = PEOPLE[name].view()
    assert WeeklyView.model_validate_json(view.model_dump_json()) == view


def test_with_sixty_lows_twelve_have_a_row_and_the_rest_stand_in_the_annex():
    view = PEOPLE["german_mmol_60_lows"].view()
    assert (len(view.lows), len(view.lows_annex)) == (12, 48)
    assert max(low.nadir_mg_dl for low in view.lows) <= min(low.nadir_mg_dl for low in view.lows_annex)
    starts = [low.start_utc for low in view.lows]
    assert starts == sorted(starts)


def test_a_low_carries_the_treatment_that_began_with_its_first_dose():
    low = PEOPLE["plain"].view().lows[0]
    assert low.treatment is not None
    assert (low.treatment.grams, low.minutes_to_glucose, low.outcome) == (5.52, 18.0, "treated")


def test_glucose_given_without_a_low_is_told_apart_from_that_for_lows():
    inputs, found = a_week()
    early = found.treatments.with_columns(pl.lit("given_early").alias("class"))
    no_lows = replace(found, lows=found.lows.clear(), treatments=early)
    view = weekly_view(inputs, no_lows, week_end=WEEK_END, now_utc=NOW)
    assert [one.treatment_class for one in view.given] == ["given_early"] * 4


def test_grams_of_each_day_add_up_to_all_that_was_logged():
    case = PEOPLE["plain"]
    view = case.view()
    assert sum(day.grams for day in view.days) == pytest.approx(case.inputs.doses["grams"].sum())
    assert sum(day.lows_n for day in view.days) == 5


def test_amounts_of_unknown_strength_are_counted_and_never_summed():
    view = PEOPLE["three_automated_unknown_strength"].view()
    assert sum(day.amounts_unknown_n for day in view.days) == 4
    assert sum(day.grams for day in view.days) == 0
    assert [dose.grams for strip in view.strips for dose in strip.doses] == [None] * 4


def test_without_a_body_weight_there_is_no_number():
    view = PEOPLE["no_data"].view()
    assert [factor.known for factor in view.factors] == [False, False]
    assert view.reference_grams is None


@pytest.mark.parametrize(("scale", "code"), [(1.02, "as_before"), (1.2, "raises_less"), (0.8, "raises_more")])
def test_a_factor_that_moved_is_told_against_what_was_shown_a_week_ago(scale, code):
    who = person()
    inputs, found = a_week(who)
    earlier = replace(found, factors=factors(who, scale))
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, earlier=earlier)
    assert [change.code for change in view.changes if change.band == "daytime"] == [code]


def test_lows_of_another_week_are_not_counted_in_this_one():
    inputs, found = a_week()
    earlier = found.lows.with_columns(pl.col("start_utc", "end_utc", "first_dose_utc").dt.offset_by("-7d"))
    found = replace(found, lows=pl.concat([earlier, found.lows]))
    readings_before = inputs.readings.with_columns(pl.col("at_utc").dt.offset_by("-7d"))
    for kept, before in ((1.0, 5.0), (0.5, None)):  # of a week seen only half nothing is said
        part = readings_before.tail(round(kept * readings_before.height))
        seen = replace(inputs, readings=pl.concat([part, inputs.readings]).unique("at_utc", keep="last").sort("at_utc"))
        view = weekly_view(seen, found, week_end=WEEK_END, now_utc=NOW)
        lows = next(change for change in view.changes if change.code == "lows")
        assert (len(view.lows), lows.before, lows.now) == (5, before, 5.0)


def test_bands_of_the_familys_own_keep_their_order_and_hours():
    view = PEOPLE["four_bands"].view()
    assert [(f.band, f.hours) for f in view.factors] == [(band.name, band.hours) for band in FOUR_BANDS]
    assert view.night_band == "overnight"


def test_a_question_about_whose_file_it_is_never_names_the_other_person():
    about = {"file": "x.csv", "other": "secret-sister", "equal": 40}
    asked = Question("mia", "whose_file", "k", "x.csv: 40 of its readings equal those of secret-sister.", (), about)
    inputs, found = a_week()
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, questions=[asked])
    assert "secret-sister" not in view.model_dump_json()
    assert "x.csv: 40 of its readings" in render_text(view)


def test_a_question_of_a_kind_without_words_is_shown_as_it_was_asked():
    asked = Question("mia", "something_new", "k", "Is this so?", ())
    inputs, found = a_week()
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, questions=[asked])
    assert "Is this so?" in render_text(view)


def test_nothing_is_shown_of_supplies_where_none_are_handed_over():
    view = PEOPLE["plain"].view()
    assert view.supplies is None
    assert "stock" not in render_text(view).lower()


def test_a_low_met_by_glucose_already_being_given_names_that_glucose():
    inputs, found = a_week()
    first = found.treatments["first_dose_utc"][0]
    earlier = pl.col("first_dose_utc") - pl.duration(minutes=40)
    begun = found.treatments.with_columns(
        pl.when(pl.col("first_dose_utc") == first).then(earlier).otherwise("first_dose_utc").alias("first_dose_utc")
    )
    view = weekly_view(inputs, replace(found, treatments=begun), week_end=WEEK_END, now_utc=NOW)
    low = view.lows[0]
    assert (low.treatment, low.within_utc, low.grams) == (None, begun["first_dose_utc"][0], 5.52)
    assert "It is measured with the glucose given from Mon 16 Nov 01:40." in " ".join(render_text(view).split())


def test_glucose_given_again_in_a_low_is_not_said_to_be_given_without_one():
    inputs, found = a_week()
    low = found.lows.filter(pl.col("first_dose_utc").is_not_null()).row(0, named=True)
    again = found.treatments.filter(pl.col("first_dose_utc") == low["first_dose_utc"])
    later = low["start_utc"] + timedelta(minutes=70)
    until = pl.lit(later + timedelta(minutes=20), dtype=found.lows.schema["end_utc"])
    longer = pl.when(pl.col("start_utc") == low["start_utc"]).then(until).otherwise("end_utc")
    at = pl.lit(later, dtype=found.treatments.schema["first_dose_utc"])
    treatments = pl.concat([found.treatments, again.with_columns(first_dose_utc=at, last_dose_utc=at)])
    found = replace(found, lows=found.lows.with_columns(end_utc=longer), treatments=treatments.sort("first_dose_utc"))
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW)
    assert [one.again_in_low_utc for one in view.given if one.first_dose_utc == later] == [low["start_utc"]]
    assert "Given again in the low that began" in render_text(view)


def test_an_untreated_path_is_drawn_only_where_it_lies_within_the_strip():
    inputs, found = a_week()
    deep = found.paths.with_columns(pl.col("untreated_mg_dl") - 60)
    view = weekly_view(inputs, replace(found, paths=deep), week_end=WEEK_END, now_utc=NOW)
    assert [path for strip in view.strips for path in strip.paths] == []


def test_more_than_twelve_amounts_without_a_low_go_on_in_the_annex_and_none_is_left_out():
    case = PEOPLE["german_mmol_60_lows"]
    found = replace(case.findings, lows=case.findings.lows.clear())
    view = weekly_view(case.inputs, found, week_end=WEEK_END, now_utc=NOW)
    tables = {b.title: b for b in document_of(view).blocks if isinstance(b, Table)}
    body, annex = tables["Weiterer Traubenzucker"], tables["Anhang: mehr weiterer Traubenzucker"]
    assert (len(body.rows), len(annex.rows)) == (12, len(view.given) - 12)


def test_wherever_a_band_is_named_its_hours_are_printed():
    named = 0
    for case in PEOPLE.values():
        told = " ".join(document_of(case.view()).texts())
        for after in re.findall(r"\b(?:Daytime|Overnight|Tagsüber|Nachts)\b(.{12})", told):
            named += 1
            assert re.fullmatch(r" \d\d:\d\d–\d\d:\d\d", after), after
    assert named > 2 * len(PEOPLE)


def test_who_moved_to_another_zone_is_told_from_when_its_clock_is_read():
    moved = person(zone=Dated(((BORN, BERLIN), (date(2026, 11, 20), ZoneInfo("America/New_York")))))
    inputs, found = a_week(moved)
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW)
    assert [(each.from_on.day, each.zone) for each in view.zones] == [(15, "Europe/Berlin"), (20, "America/New_York")]
    told = " ".join(render_text(view).split())
    assert "From Fri 20 Nov on the clock is that of America/New_York." in told
    assert "The clock was changed" not in told


def test_a_week_at_home_before_a_journey_is_told_as_it_was():
    """The letter of the week before told 02:45 at home as 20:45, and counted its glucose by day."""
    moved = person(zone=Dated(((BORN, BERLIN), (WEEK_END, ZoneInfo("America/New_York")))))
    inputs, found = a_week()
    at_home, before = (
        weekly_view(replace(inputs, person=who), found, week_end=WEEK_END, now_utc=NOW)
        for who in (inputs.person, moved)
    )
    assert [one.grams_by_band for one in before.days] == [one.grams_by_band for one in at_home.days]
    assert [one.single_mg_dl_per_g for one in before.factors] == [one.single_mg_dl_per_g for one in at_home.factors]
    lows = [
        [row for row in document_of(view).texts() if re.search(r"Nov \d\d:\d\d", row)] for view in (at_home, before)
    ]
    assert lows[0] == lows[1] != []


def test_glucose_that_may_be_weaker_than_printed_is_said_to_be_once():
    told = " ".join(document_of(PEOPLE["three_automated_unknown_strength"].view()).texts())
    assert "tablets may be 9\u00a0% weaker than printed" in told
    assert told.count("weaker than printed") == 1


def test_bands_changed_after_the_week_name_the_numbers_and_the_old_ones_the_days():
    inputs, found = a_week()
    changed = Dated(((date.min, DEFAULT_BANDS), (WEEK_END + timedelta(days=1), FOUR_BANDS)))
    moved = replace(inputs, person=replace(inputs.person, bands=changed))
    later = NOW + timedelta(days=3)
    one = factors(moved.person).head(1)
    numbers = pl.concat([one.with_columns(band=pl.lit(band.name)) for band in FOUR_BANDS])
    view = Case(moved, replace(found, as_of_utc=later, factors=numbers)).view()
    assert [(one.band, one.hours) for one in view.factors] == [(band.name, band.hours) for band in FOUR_BANDS]
    assert [(one.band, one.hours) for one in view.days[0].grams_by_band] == [
        (band.name, band.hours) for band in DEFAULT_BANDS
    ]
    assert view.night_hours == "22:00-07:00"


def test_a_treatment_whose_rise_is_not_seen_is_explained_by_where_the_level_was_going():
    """4.6 g at 5.1 mg/dL per g raised 23, yet the readings rose by 1: without the glucose they would have fallen."""
    inputs, found = a_week()
    odd = found.pairings.with_columns(
        rise_seen_mg_dl=pl.lit(1.0), rise_estimated_mg_dl=pl.lit(23.4), factor_mg_dl_per_g=pl.lit(5.1)
    )
    view = weekly_view(inputs, replace(found, pairings=odd), week_end=WEEK_END, now_utc=NOW)
    told = " ".join(render_text(view).split())
    assert "1 g raised about 5.1. The level was about to fall: without the glucose it would have been about 23" in told
    plain = " ".join(render_text(PEOPLE["plain"].view()).split())
    assert "about to fall" not in plain


def test_insulin_as_logged_and_no_insulin_logged_never_stand_in_one_report():
    inputs, found = a_week()
    at = inputs.readings["at_utc"][100]
    row = {"person_id": "mia", "at_utc": at, "until_utc": None, "kind": "insulin", "amount": 1.0, "text": ""}
    logged = replace(inputs, events=pl.DataFrame([row], schema=EVENTS.schema))
    for who, said, unsaid in (
        (logged, "Insulin was given as logged.", "No insulin is logged"),
        (inputs, "No insulin is logged", "Insulin was given as logged."),
    ):
        told = " ".join(render_text(weekly_view(who, found, week_end=WEEK_END, now_utc=NOW)).split())
        assert said in told
        assert unsaid not in told


def test_after_a_change_of_bands_earlier_treatments_keep_their_ticks():
    inputs, found = a_week()
    before = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW)
    renamed = (TimeBand("day", time(7), time(23)), TimeBand("sleep", time(23), time(7)))
    changed = Dated(((date.min, DEFAULT_BANDS), (WEEK_END - timedelta(days=1), renamed)))
    who = replace(inputs, person=replace(inputs.person, bands=changed))
    after = weekly_view(who, found, week_end=WEEK_END, now_utc=NOW)
    ticks = {view.band: len(view.single_mg_dl_per_g) for view in after.factors}
    assert sum(len(view.single_mg_dl_per_g) for view in before.factors) == 3
    assert ticks == {"day": 0, "sleep": 3}


def test_levels_above_the_top_of_a_strip_are_marked_and_the_mark_is_explained():
    inputs, found = a_week()
    high = inputs.readings.with_columns(
        glucose_mg_dl=pl.when(pl.int_range(pl.len()).is_between(40, 52)).then(340.0).otherwise("glucose_mg_dl")
    )
    view = weekly_view(replace(inputs, readings=high), found, week_end=WEEK_END, now_utc=NOW)
    words = words_for("en", "mg/dL", view.zone)
    assert [strip.above for strip in view.strips] == [((200.0, 265.0),), *[()] * 6]
    flat = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW)
    marks = [week_picture(one, words).svg.count("<line") for one in (view, flat)]
    assert marks[0] == marks[1] + 1
    assert "Double at the top: above 300." in week_picture(view, words).caption


def test_the_amount_for_which_the_number_stands_is_not_called_measured():
    told = " ".join(render_text(PEOPLE["plain"].view()).split())
    assert "as part of about 4.5 g at once: the amount that is compared at this weight" in told
    assert "measured at about" not in told


def test_a_band_with_treatments_is_never_called_not_yet_measured():
    told = " ".join(document_of(PEOPLE["plain"].view()).texts())
    assert "from 3 treatments" in told
    assert "not yet measured" not in told


def test_the_annex_says_of_each_low_only_what_became_of_it():
    tables = {b.title: b for b in document_of(PEOPLE["german_mmol_60_lows"].view()).blocks if isinstance(b, Table)}
    annex = tables["Anhang: die übrigen Unterzuckerungen"]
    assert len(annex.rows) == 48
    assert max(len(row.note) for row in annex.rows) < 60


def test_who_noticed_a_low_has_its_place_and_is_unknown_until_a_log_tells():
    assert {low.noticed_by for low in PEOPLE["plain"].view().lows} == {None}
