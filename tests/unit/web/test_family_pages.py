"""What a parent does on the page beside logging: food, files, questions, tins, bottles; and what is read there."""

import json
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from support.card_people import BIG_PIECES, card
from support.nightly_home import START, child, doses_csv, readings_csv, settled
from support.page_phone import ENTRY, NOW, again, phone, said, send, token
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.person import Dated
from gramrise.nightly import make_card
from gramrise.report.card.pages.face import face_of
from gramrise.web.rendering import render

LOW_AT = START + timedelta(hours=10)  # 23:00 in Berlin


def one_child(store):
    settled(store.home)
    store.save_person(child())


@pytest.fixture
def store(store_like):
    return store_like(one_child)


@pytest.fixture
def dad(store):
    return phone(store, "mia")


def bring(client, *files, **fields):
    return send(client, "/0/upload", files=[("file", each) for each in files], **fields)


def trace(low_at=10):
    return ("trace.csv", readings_csv(START, 13, low_at), "text/csv")


def days_before_the_trace(days):
    """An older trace whose low begins so many days before the last reading of `trace()`."""
    last = START + timedelta(hours=13) - timedelta(minutes=5)
    return ("old.csv", readings_csv(last - timedelta(days=days, hours=3), 6, 3), "text/csv")


NO_FOOD = ({"kind": "insulin"}, {"kind": "food", "grams": "4000"}, {"kind": "food", "grams": "x"})
TOO_LITTLE = (
    {"new_tin": "bag", "left": "3"},
    {"left": "3"},
    {"new_tin": "bag", "left": "-3", "filled": "9"},
)


def bare(*hours):
    """A log of bare numbers, each as many as the hour is after ten: nobody says whether pieces or grams."""
    rows = "".join(f"2026-03-01T{hour:02}:00+00:00,{hour - 10}\n" for hour in hours)
    return ("log.csv", "time,glucose given\n" + rows, "text/csv")


def test_food_is_logged_on_its_own_screen_and_listed_with_who_logged_it(store, dad):
    send(dad, "/0/beside", entry=ENTRY, kind="food", grams="22,5", text="bread", minutes="20")
    events = store.inputs("mia").events
    assert events.select("kind", "amount", "text", "at_utc").rows() == [
        ("food", 22.5, "bread", NOW - timedelta(minutes=20))
    ]
    assert store.inputs("mia").doses.height == 0
    assert "food, 22.5\u00a0g of carbohydrate (bread), 01:50, by Dad" in dad.get("/0/").text


def test_a_low_that_was_felt_is_a_note_and_two_phones_in_one_minute_keep_both(store, dad):
    send(dad, "/0/beside", entry=ENTRY, kind="felt_low", minutes="0")
    send(phone(store, "mia", label="Mum"), "/0/beside", entry="e" * 32, kind="felt_low", minutes="0")
    assert store.inputs("mia").events.select("kind", "text").rows() == [("note", "felt low")] * 2


def test_food_with_two_times_is_asked_about_as_glucose_is(store, dad):
    fields = {"entry": ENTRY, "kind": "food", "grams": "20", "text": "bread", "minutes": "0", "at": "01:40"}
    asked = send(dad, "/0/beside", **fields)
    assert asked.status_code == 409
    assert 'action="/0/beside"' in asked.text
    assert re.findall(r'name="(grams|text)" value="(\w+)"', asked.text)[:2] == [("grams", "20"), ("text", "bread")]
    assert store.inputs("mia").events.height == 0
    assert send(dad, "/0/beside", **fields, time_meant="1").status_code == 303
    assert store.inputs("mia").events.height == 1


def test_what_was_stated_is_not_taken_back_by_a_touch(store, dad):
    who = store.person("mia")
    store.save_person(replace(who, name="Mia May"), NOW)
    assert [each.kind for each in store.last_changes("mia", 1)] == ["facts"]
    number = str(store.last_changes("mia", 1)[0].change_id)
    assert f'value="{number}"' not in dad.get("/0/changes").text
    assert send(dad, "/0/changes", change=number).status_code == 422
    assert store.person("mia").name == "Mia May"


def test_food_sent_twice_is_logged_once_and_can_be_taken_back(store, dad):
    for _ in range(2):
        send(dad, "/0/beside", entry=ENTRY, kind="food", grams="20", minutes="0")
    assert store.inputs("mia").events.height == 1
    change = re.search(r'name="change" value="(\d+)"', dad.get("/0/").text)[1]
    send(dad, "/0/undo", change=change)
    assert store.inputs("mia").events.height == 0


@pytest.mark.parametrize("fields", NO_FOOD)
def test_what_is_no_food_is_refused_and_nothing_lands(store, dad, fields):
    assert send(dad, "/0/beside", entry=ENTRY, minutes="0", **fields).status_code == 422
    assert store.inputs("mia").events.height == 0


def test_an_export_dropped_in_is_taken_in_and_its_low_is_read(store, dad):
    answer = bring(dad, trace(), ("log.csv", doses_csv(LOW_AT), "text/csv"))
    assert "156 new." in answer.text
    assert "1 new." in answer.text
    lows = dad.get("/0/lows").text
    assert "Sun\u00a01\u00a0Mar 23:00: lowest 62\u00a0mg/dL, 40\u00a0min, treated, 12\u00a0g of glucose" in lows


@pytest.mark.parametrize(("days_before", "listed_n"), [(13.9, 2), (14.1, 1)])
def test_phone_and_terminal_list_the_lows_of_the_same_days(store, dad, days_before, listed_n):
    bring(dad, days_before_the_trace(days_before))
    bring(dad, trace(), ("log.csv", doses_csv(LOW_AT), "text/csv"))
    later = again(store, dad, NOW + timedelta(days=3)).get("/0/lows").text
    assert later.count("lowest 62") == listed_n
    typed = CliRunner().invoke(app, ["--home", str(store.home), "lows", "--days", "14", "--json"])
    assert len(json.loads(typed.output)["lows"]) == listed_n


def test_a_file_that_waits_costs_the_others_nothing_and_says_why(store, dad):
    answer = bring(dad, ("odd.csv", "when,what\nsome time,some thing\n", "text/csv"), trace())
    assert answer.status_code == 200
    assert "Waits; nothing of it was taken in" in answer.text
    assert store.inputs("mia").readings.height == 156


def test_a_note_brought_again_says_how_much_of_it_was_never_read(dad):
    note = ("n.txt", "2026-03-01\n02:10 3 pieces\nsomething at night 1\n", "text/plain")
    bring(dad, note)
    assert "1 line of it could not be read then, and is in no number" in bring(dad, note).text


def test_a_trace_that_contradicts_waits_until_it_is_said_to_be_right(store, dad):
    bring(dad, trace())
    other = ("other.csv", readings_csv(START, 13).replace(",11", ",17"), "text/csv")
    assert "Waits" in bring(dad, other).text
    assert store.inputs("mia").readings["glucose_mg_dl"].max() < 150
    assert "corrected" in bring(dad, other, replace="yes").text
    assert store.inputs("mia").readings["glucose_mg_dl"].max() > 150


@pytest.mark.parametrize("name", ["../../outside.csv", "..\\outside.csv", ".hidden", "a\x00b.csv", "x" * 300])
def test_no_name_of_a_file_leads_out_of_its_folder(store, dad, name, tmp_path):
    bring(dad, (name, readings_csv(START, 1), "text/csv"))
    assert {each.name for each in tmp_path.iterdir()} == {"home"}


def test_one_answer_mends_all_that_are_alike_and_an_answer_can_be_taken_back(store, dad):
    bring(dad, bare(12, 13, 14))
    asked = dad.get("/0/questions").text
    number = re.search(r'name="question" value="(\d+)"', asked)[1]
    values = re.findall(r'name="answer" value="([^"]+)"', asked)
    assert "piece:tin" in values
    sure = send(dad, "/0/questions", question=number, answer="piece:tin")
    assert "2 more" in sure.text
    send(dad, "/0/questions", question=number, answer="piece:tin", sure="1", for_all="yes")
    assert store.inputs("mia").doses["grams"].to_list() == [8.0, 12.0, 16.0]
    assert store.questions("mia") == []
    changes = dad.get("/0/changes").text
    send(dad, "/0/changes", change=re.search(r'name="change" value="(\d+)"', changes)[1])
    assert len(store.questions("mia")) == 3


def test_an_answer_is_no_way_round_the_bounds_of_an_amount(store, dad):
    """A child of 31.5 kg and tablets of 4 g: 20 of them are refused, 10 asked about, and no 'all alike' takes them."""
    rows = "".join(f"2026-03-01T{hour}:00+00:00,{number}\n" for hour, number in ((12, 2), (13, 10), (14, 20), (15, 3)))
    bring(dad, ("log.csv", "time,glucose given\n" + rows, "text/csv"))
    two, ten, twenty, _ = [str(each.question_id) for each in store.questions("mia")]
    assert "pieces of tin: 2 = 8 g" in dad.get("/0/questions").text
    told = send(dad, "/0/questions", question=twenty, answer="piece:tin", sure="1")
    assert (told.status_code, "so much at once is not likely" in told.text) == (422, True)
    assert send(dad, "/0/questions", question=twenty, answer="grams", grams="500").status_code == 422
    assert "that is much for one treatment" in send(dad, "/0/questions", question=ten, answer="piece:tin").text
    assert len(store.questions("mia")) == 4
    assert "1 more" in send(dad, "/0/questions", question=two, answer="piece:tin").text
    send(dad, "/0/questions", question=two, answer="piece:tin", sure="1", for_all="yes")
    assert store.inputs("mia").doses["grams"].to_list() == [8.0, None, None, 12.0]


def test_an_answer_that_was_not_offered_is_refused(store, dad):
    bring(dad, bare(12))
    number = store.questions("mia")[0].question_id
    assert send(dad, "/0/questions", question=str(number), answer="piece:nothing of ours").status_code == 422
    assert send(dad, "/0/questions", question="999", answer="piece:tin").status_code == 422
    assert len(store.questions("mia")) == 1


def test_a_tin_is_counted_and_counted_again_from_what_was_left(store, dad):
    told = said(dad, send(dad, "/0/count", new_tin="school tin", left="13", filled="20"))
    assert "7 of 20 pieces of tin gone" in told
    later = phone(store, "mia", label="Mum", now=NOW + timedelta(hours=10))
    assert "3 of 13 pieces of tin gone" in said(later, send(later, "/0/count", tin="school tin", left="10"))
    assert [count.pieces_left for count in store.supplies.counts("mia")] == [13, 10]


@pytest.mark.parametrize("fields", TOO_LITTLE)
def test_a_count_that_says_too_little_is_refused_in_words(store, dad, fields):
    answer = send(dad, "/0/count", **fields)
    assert answer.status_code == 422
    assert "To mend" in answer.text
    assert store.supplies.counts("mia") == []


def test_a_bottle_is_mixed_by_its_steps_and_its_strength_is_known_from_then_on(store, dad):
    wanted = {"new_name": "night bottle", "powder": "monohydrate", "grams_in_5_ml": "1.25", "ml": "750"}
    steps = send(dad, "/0/mix", **wanted).text
    assert "weigh in 206\u00a0g of powder" in steps  # 187.5 g / 0.909, whole grams
    logged = {"name": "night bottle", "powder": "monohydrate", "powder_g": "206", "ml": "750", "weighed_g": "831"}
    assert "scale and line" in said(dad, send(dad, "/0/mix/logged", **logged))
    source = next(each for each in store.person("mia").sources_now() if each.name == "night bottle")
    assert source.glucose_per_unit_g == pytest.approx(0.25, abs=0.001)


def test_a_bottle_and_its_undo_say_which_cards_they_end_and_which_hold_again(store, dad):
    logged = {"name": "night bottle", "powder": "monohydrate", "powder_g": "206", "ml": "750", "weighed_g": "831"}
    send(dad, "/0/mix/logged", **logged)
    plan = CarePlan(below_54_grams=9, look_again_minutes=15, second_grams=5)
    store.save_person(replace(store.person("mia"), care_plan=Dated(((date(2026, 1, 1), plan),))))
    make_card(store, "mia", "night bottle", NOW, store.home)
    later = phone(store, "mia", label="Mum", now=NOW + timedelta(hours=10))
    weaker = said(later, send(later, "/0/mix/logged", **(logged | {"powder_g": "165", "weighed_g": "808"})))
    assert "Card 1 (night bottle) no longer holds: the strength of the glucose has changed. Throw it away." in weaker
    change = max(each.change_id for each in store.last_changes("mia", 5))
    back = said(later, send(later, "/0/changes", change=str(change)))
    assert "Card 1 (night bottle) holds again" in back


def test_a_bottle_that_weighs_otherwise_has_no_strength_and_is_poured_away(store, dad):
    logged = {"name": "night bottle", "powder": "monohydrate", "powder_g": "206", "ml": "750", "weighed_g": "700"}
    assert "Pour it away" in said(dad, send(dad, "/0/mix/logged", **logged))
    assert [each.name for each in store.person("mia").sources_now()] == ["tin"]


def test_a_bottle_past_its_days_says_so_where_it_is_given_from_and_can_still_be_logged(store, dad):
    """What was drunk from it is a fact; who looks at the amounts at night must read that it is to be poured away."""
    logged = {"name": "night bottle", "powder": "monohydrate", "powder_g": "206", "ml": "750", "weighed_g": "831"}
    send(dad, "/0/mix/logged", **logged)
    last = (NOW + timedelta(days=7)).date()
    for days, told in ((7, False), (8, True)):
        later = phone(store, "mia", label=f"Mum {'x' * days}", now=NOW + timedelta(days=days))
        shown = later.get("/0/").text
        assert (f"This bottle was to be used by {last.day}" in shown) == told
        assert 'value="mL:20:night bottle"' in shown


def test_no_powder_is_taken_for_granted(dad):
    assert send(dad, "/0/mix", new_name="bottle", grams_in_5_ml="1.25", ml="750").status_code == 422


def test_what_is_on_hand_is_counted_on_the_page(store, dad):
    assert "not known what is on hand" in dad.get("/0/stock").text
    assert "tin: about 45 pieces on hand" in said(dad, send(dad, "/0/stock/counted", source="tin", amount="45"))


def test_the_line_of_today_says_when_the_last_reading_came_what_waits_and_which_card_holds(store, dad):
    bring(dad, trace(), bare(12))
    line = dad.get("/0/more").text
    assert "Last reading 01:55 · 1 question waits · no card holds: follow the care plan" in line
    assert "1 question waits" in dad.get("/0/").text


def test_the_line_of_today_counts_lines_that_could_not_be_read(store, dad):
    name, rows, kind = trace()
    bring(dad, (name, rows + "what is this,x\n", kind))
    assert "1 line of a file was not read" in dad.get("/0/more").text


def test_the_weekly_report_is_shown_and_runs_nothing(dad):
    bring(dad, trace())
    answer = dad.get("/0/report")
    assert "sandbox" in answer.headers["content-security-policy"]
    assert "mia" in answer.text
    assert "<script" not in answer.text


def test_a_card_is_looked_at_and_says_why_it_is_withheld(store, dad):
    assert "no care plan" in dad.get("/0/cards").text.lower()
    assert store.cards_of("mia") == []


def test_below_54_the_page_shows_what_pieces_hold_as_the_paper_does():
    """The paper told pieces beside 10 g, the page grams alone, in the row that cannot wait."""
    face = face_of(card(BIG_PIECES))
    shown = render("card.html", face=face)
    assert face.below_54.near == "3\u00a0pieces: 12\u00a0g"
    (row,) = re.findall(r"<tr><th scope=\"row\">below 54</th>.*?</tr>", shown)
    assert face.below_54.near in row


def test_the_help_screen_tells_the_glucagon_of_home_and_of_school(store, dad):
    plan = CarePlan(glucagon_where="red bag", school=SchoolPlan(glucagon_where="first-aid cupboard"))
    store.save_person(replace(store.person("mia"), care_plan=Dated(((date(2026, 1, 1), plan),))), NOW)
    told = dad.get("/0/help").text
    assert "Glucagon is kept: red bag" in told
    assert "Glucagon at school is kept: first-aid cupboard" in told


def test_who_looked_stands_in_the_trail_without_a_value(store, dad):
    bring(dad, trace())
    dad.get("/0/report")
    entries = [(entry.who, entry.role, entry.did, entry.what) for entry in store.trail.entries("mia")]
    assert ("device 1", "parent", "saw", "report") in entries


READ = ("/more", "/lows", "/report", "/cards", "/stock", "/upload", "/questions", "/count", "/mix", "/changes")
DONE = (
    "/upload", "/questions", "/questions/later", "/count", "/mix", "/mix/logged", "/stock/counted", "/cards/gone",
    "/changes",
)  # fmt: skip


@pytest.mark.parametrize("path", READ)
def test_every_page_opens_for_a_parent_in_both_languages(store, path):
    store.save_person(replace(child("tom"), language="de"))
    both = phone(store, "mia", "tom")
    assert [both.get(f"/{n}{path}").status_code for n in (0, 1)] == [200, 200]
    assert 'lang="de"' in both.get(f"/1{path}").text


@pytest.mark.parametrize("role", ["helper", "clinic"])
def test_nothing_of_the_familys_opens_for_a_helper_or_a_clinic(store, role):
    other = phone(store, "mia", role=role)
    page = "/0/" if role == "helper" else "/0/sign"
    sent = {"token": token(other, page), "change": "1", "question": "1", "left": "1", "number": "1"}
    assert {other.get(f"/0{path}").status_code for path in READ} == {403}
    assert {other.post(f"/0{path}", data=sent).status_code for path in DONE} == {403}


def test_a_device_that_was_not_read_on_for_a_month_may_only_log(store, dad):
    late = NOW + timedelta(days=31)
    idle = again(store, dad, late)
    assert {idle.get(f"/0{path}").status_code for path in READ} == {403}
    assert [idle.get(f"/0{path}").status_code for path in ("/", "/food", "/help")] == [200, 200, 200]


def test_no_form_without_its_token_changes_anything(store, dad):
    sent = {"token": "0" * 64, "change": "1", "question": "1", "left": "1", "number": "1"}
    assert {dad.post(f"/0{path}", data=sent).status_code for path in (*DONE, "/beside")} == {403}
    assert store.last_changes("mia") == []


def test_script_in_the_name_of_a_file_or_tin_stays_text(dad):
    answer = bring(dad, ("<script>x</script>.csv", "a,b\n1,2\n", "text/csv"))
    assert "<script>x" not in answer.text
    counted = said(dad, send(dad, "/0/count", new_tin="<script>x</script>", left="1", filled="2"))
    assert "<script>x" not in counted
    assert "&lt;script&gt;x" in counted
