"""The page through its own doors: who comes in, what is logged once, what is refused."""

import errno
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from starlette.testclient import TestClient
from support.nightly_home import child
from support.page_phone import again, whose

from gramrise.domain.care_plan import CarePlan
from gramrise.domain.person import Dated
from gramrise.domain.problems import refused_by_disk
from gramrise.report import words_for
from gramrise.store.page.phone_log import PhoneLog
from gramrise.web import page_app
from gramrise.web.guard.limits import Throttle
from gramrise.web.guard.secrets import hashed
from gramrise.web.serving.certificate import private_certificate
from gramrise.web.views.amounts import amount_words

NOW = datetime(2026, 3, 2, 1, 10, tzinfo=UTC)  # 02:10 in Berlin
ENTRY = "0123456789abcdef0123456789abcdef"
PIECES = "piece:3:tin"


def two_children(store):
    store.save_person(child())
    store.save_person(child("tom"))


@pytest.fixture
def store(store_like):
    return store_like(two_children)


def phone(store, *people, role="parent", label="Dad", now=NOW):
    """A browser that was let in for these persons."""
    store.devices.invite(people, role, label, hashed(f"link of {len(label)}"), now + timedelta(hours=1))
    client = TestClient(page_app(store.home, store, lambda: now), base_url="http://127.0.0.1", follow_redirects=False)
    assert client.post(f"/in/link of {len(label)}").status_code == 303
    return client


def token(client):
    return re.search(r'name="token" value="(\w+)"', client.get("/0/").text)[1]


def log(client, entry=ENTRY, way="/0", **fields):
    form = {"token": token(client), "whose": whose(client), "entry": entry, "amount": PIECES, "minutes": "0"} | fields
    return client.post(f"{way}/given", data=form, headers={"accept": "application/json"})


def test_three_pieces_logged_twice_with_one_identity_are_three_pieces(store):
    dad = phone(store, "mia")
    first, second = log(dad).json(), log(dad).json()
    assert first == {"logged": True, "known": False, "said": "Logged: 3\u00a0pieces of tin, 02:10."}
    assert second == {"logged": True, "known": True}
    doses = store.inputs("mia").doses
    assert doses.select("amount", "grams", "source").rows() == [(3.0, 12.0, "tin")]


def test_the_first_line_says_what_when_by_whom_and_when_to_look_again(store):
    log(phone(store, "mia"), minutes="10")
    mum = phone(store, "mia", label="Mum")
    told = text_of(mum.get("/0/"))
    assert "3\u00a0pieces of tin (12\u00a0g), 02:00, by Dad, 10\u00a0min ago: look again at 02:15" in told


def text_of(answer):
    return re.sub(r"</?span[^>]*>", "", answer.text)


def plan_of(store, **facts):
    plan = CarePlan(standard_grams=8, second_grams=8, below_54_grams=12, most_grams=12, **facts)
    store.save_person(replace(store.person("mia"), care_plan=Dated(((date(2026, 1, 1), plan),))), NOW)


@pytest.mark.parametrize(
    ("language", "asked", "known"),
    [
        ("en", "10\u00a0g (glucose in it not known yet)", "10\u00a0g (4\u00a0g glucose)"),
        ("de", "10\u00a0g (Traubenzucker darin noch nicht bekannt)", "10\u00a0g (4\u00a0g Traubenzucker)"),
    ],
)
def test_grams_of_a_gel_are_never_shown_as_if_they_were_grams_of_glucose(language, asked, known):
    """The sum above said at least 7.5 g, and the list said 10 g of a gel nobody had told the strength of."""
    words = words_for(language, "mg/dL", "UTC")
    assert amount_words(words, 10.0, "g", None) == asked
    assert amount_words(words, 10.0, "g", 4.0) == known
    assert amount_words(words, 10.0, "g", 10.0) == "10\u00a0g"
    assert amount_words(words, None, "", 7.5) == "7.5\u00a0g".replace(".", "," if language == "de" else ".")


def test_after_two_amounts_their_sum_stands_and_no_second_amount_is_offered_any_more(store):
    plan_of(store)
    dad = phone(store, "mia")
    log(dad, minutes="10", amount="piece:2:tin")
    assert "second amount" in dad.get("/0/now").text
    log(dad, entry="f" * 32, amount="piece:1:tin", sure="1")
    told = dad.get("/0/now").text
    assert "2 amounts since 02:00, together 12\u00a0g" in told
    assert "second amount" not in told
    assert "get help" in told


def test_an_amount_answered_as_written_twice_counts_no_more_on_the_page_either(store):
    plan_of(store)
    log(phone(store, "mia"), minutes="5")
    log(phone(store, "mia", label="Mum"), entry="f" * 32, waited="300")
    dad = phone(store, "mia", label="Daddy")
    assert "2 amounts" in dad.get("/0/now").text
    (asked,) = store.questions("mia")
    store.answer(asked.question_id, "same", "Dad", NOW)
    assert "2 amounts" not in dad.get("/0/now").text
    assert dad.get("/0/").text.count('name="change"') == 1


def test_an_amount_as_large_as_first_and_second_is_followed_by_no_second(store):
    plan_of(store)
    dad = phone(store, "mia")
    log(dad, amount="piece:9:tin")
    assert "second amount" not in dad.get("/0/now").text


def test_no_more_than_the_plans_most_is_offered_to_a_touch_and_the_plans_own_amounts_are(store):
    offered = re.findall(r'value="piece:(\d+):tin"', phone(store, "mia").get("/0/").text)
    plan_of(store)
    within = re.findall(r'value="piece:(\d+):tin"', phone(store, "mia", label="Mum").get("/0/").text)
    assert offered == ["1", "2", "3", "4"]  # 4 g each
    assert within == ["1", "2", "3"]


def test_while_no_card_holds_the_plans_amounts_stand_on_the_help_screen_in_pieces(store):
    plan_of(store)
    told = phone(store, "mia").get("/0/help").text
    assert "For a low: 8\u00a0g (2\u00a0pieces of tin)" in told
    assert "12\u00a0g (3\u00a0pieces of tin)" in told


def test_an_entry_made_for_one_child_is_never_logged_for_another(store):
    aunt = phone(store, "mia", "tom")
    of_tom = whose(aunt, "/1/")
    refused = log(aunt, whose=of_tom)
    assert refused.status_code == 422
    assert "another child" in refused.json()["problem"]
    assert log(aunt, whose=of_tom, way="/1").json()["logged"]
    assert [store.inputs(who).doses.height for who in ("mia", "tom")] == [0, 1]


def test_a_time_written_and_another_touched_is_asked_about_and_nothing_logged_before(store):
    dad = phone(store, "mia")
    assert log(dad, at="01:40").status_code == 409
    asked = dad.post("/0/given", data={"token": token(dad), "whose": whose(dad), "entry": ENTRY, "amount": PIECES,
                                       "minutes": "0", "at": "01:40"})  # fmt: skip
    assert asked.status_code == 409
    assert ">01:40</button>" in asked.text
    assert ">now</button>" in asked.text
    assert store.inputs("mia").doses.height == 0
    assert log(dad, at="01:40", minutes="at", time_meant="1").json()["logged"]
    assert store.inputs("mia").doses["taken_at_utc"].to_list() == [NOW - timedelta(minutes=30)]


def test_of_two_times_of_an_entry_that_waited_the_written_one_is_taken(store):
    assert log(phone(store, "mia"), at="01:40", waited="600").json()["logged"]
    assert store.inputs("mia").doses["taken_at_utc"].to_list() == [NOW - timedelta(minutes=30)]


def test_at_a_time_without_one_is_refused_in_words(store):
    refused = log(phone(store, "mia"), minutes="at", at="")
    assert refused.status_code == 422
    assert "no time was written" in refused.json()["problem"]


def test_what_another_phone_logged_is_shown_beside_what_is_asked_about(store):
    log(phone(store, "mia"), minutes="10")
    mum = phone(store, "mia", label="Mum")
    form = {"token": token(mum), "whose": whose(mum), "entry": "f" * 32, "amount": "piece:2:tin", "minutes": "0"}
    assert "Yours: 2\u00a0pieces of tin, 02:10" in mum.post("/0/given", data=form).text


def test_food_and_what_was_taken_back_are_said_with_what_they_were(store):
    dad = phone(store, "mia")
    assert log(dad, amount="", words="a banana").json()["said"].startswith("Logged: food (a banana)")
    log(dad, entry="a" * 32)
    change = re.search(r'name="change" value="(\d+)"', dad.get("/0/").text)[1]
    assert dad.post("/0/undo", data={"token": token(dad), "change": change}).status_code == 303
    assert "Taken back: 3\u00a0pieces of tin" in dad.get("/0/").text


def test_another_phones_entry_within_fifteen_minutes_is_pointed_out_before_logging(store):
    log(phone(store, "mia"), minutes="10")
    mum = phone(store, "mia", label="Mum")
    assert log(mum, entry="f" * 32).status_code == 409
    assert store.inputs("mia").doses.height == 1
    assert log(mum, entry="f" * 32, sure="1").json()["logged"]
    assert store.inputs("mia").doses.height == 2
    assert store.questions("mia") == []  # it was asked and answered on the phone


def test_two_phones_without_network_in_one_minute_lose_nothing(store):
    assert log(phone(store, "mia"), waited="7200").json()["logged"]
    assert log(phone(store, "mia", label="Mum"), entry="e" * 32, waited="7200").json()["logged"]
    doses = store.inputs("mia").doses
    assert doses["ordinal"].to_list() == [1, 2]
    assert set(doses["taken_at_utc"]) == {NOW - timedelta(hours=2)}
    assert [asked.question.kind for asked in store.questions("mia")] == ["maybe_twice"]


def test_what_was_logged_is_taken_back_as_long_as_it_is_listed(store):
    dad = phone(store, "mia")
    log(dad)
    change = re.search(r'name="change" value="(\d+)"', dad.get("/0/").text)[1]
    assert dad.post("/0/undo", data={"token": token(dad), "change": change}).status_code == 303
    assert store.inputs("mia").doses.height == 0
    assert dad.post("/0/undo", data={"token": token(dad), "change": "999"}).status_code == 422


@pytest.mark.parametrize("words", ["Tom: 3 pieces tin", "3 pieces tin, Tom ate them", "3 pieces tin for Tom"])
def test_words_that_name_the_other_child_of_the_home_count_for_nobody(store, words):
    refused = log(phone(store, "mia", "tom"), amount="", words=words)
    assert refused.status_code == 422
    assert [store.inputs(who).doses.height for who in ("mia", "tom")] == [0, 0]


def test_what_is_polled_brings_the_list_too_and_how_long_ago_stands_apart(store):
    dad, mum = phone(store, "mia"), phone(store, "mia", label="Mum")
    log(dad)
    told = again(store, mum, NOW + timedelta(minutes=3)).get("/0/now").text
    assert "by Dad<span data-ago>, 3\u00a0min ago</span>" in told.split("<template>")[1]
    change = re.search(r'name="change" value="(\d+)"', told)[1]
    mum.post("/0/undo", data={"token": token(mum), "change": change})
    assert "3\u00a0pieces" not in dad.get("/0/now").text
    assert "Nothing is logged." in dad.get("/0/now").text


def test_words_are_read_as_give_reads_them_with_their_time(store):
    assert log(phone(store, "mia"), amount="", words="2 pieces tin at 1:50").json()["logged"]
    assert store.inputs("mia").doses.select("taken_at_utc", "amount").rows() == [(NOW - timedelta(minutes=20), 2.0)]


@pytest.mark.parametrize("door", ["/0/", "/0/now", "/0/help", "/"])
def test_no_page_opens_without_a_session(store, door):
    client = TestClient(page_app(store.home, store, lambda: NOW))
    answer = client.get(door)
    assert answer.status_code == 401
    assert "mia" not in answer.text


def test_a_phone_let_in_for_one_child_reaches_no_other_and_a_clinic_logs_nothing(store):
    assert phone(store, "mia").get("/1/").status_code == 404
    assert phone(store, "mia", role="clinic", label="clinic").get("/0/").status_code == 403


def test_a_link_lets_one_device_in_and_a_preview_uses_nothing(store):
    store.devices.invite(["mia"], "helper", "Gran", hashed("once"), NOW + timedelta(hours=1))
    app = page_app(store.home, store, lambda: NOW)
    preview, gran, thief = (TestClient(app, follow_redirects=False) for _ in range(3))
    assert preview.get("/in/once").status_code == 200
    assert [gran.post("/in/once").status_code, thief.post("/in/once").status_code] == [303, 404]


def test_a_session_that_was_put_there_before_is_worth_nothing(store):
    store.devices.invite(["mia"], "parent", "Dad", hashed("link"), NOW + timedelta(hours=1))
    app = page_app(store.home, store, lambda: NOW)
    victim = TestClient(app, cookies={"gramrise": "chosen by another"}, follow_redirects=False)
    set_cookie = victim.post("/in/link").headers["set-cookie"]
    assert "HttpOnly" in set_cookie
    assert "SameSite=strict" in set_cookie
    assert TestClient(app, cookies={"gramrise": "chosen by another"}).get("/0/").status_code == 401


def test_a_device_that_was_shut_out_sees_and_logs_nothing(store):
    dad = phone(store, "mia")
    form = token(dad)
    store.devices.shut_out(store.devices.listed()[0].device_id, NOW)
    assert dad.get("/0/").status_code == 401
    assert dad.post("/0/given", data={"token": form, "entry": ENTRY, "amount": PIECES}).status_code == 401
    assert store.inputs("mia").doses.height == 0


def test_forms_of_another_site_or_without_token_log_nothing(store):
    dad = phone(store, "mia")
    assert log(dad, token="0" * 64).status_code == 403
    foreign = {"token": token(dad), "entry": ENTRY, "amount": PIECES}
    assert dad.post("/0/given", data=foreign, headers={"origin": "http://evil.example"}).status_code == 403
    assert dad.post("/0/given", data=foreign, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert store.inputs("mia").doses.height == 0


def test_a_form_too_large_is_refused_whether_it_says_so_or_not(store):
    dad = phone(store, "mia")
    big = b"amount=" + b"x" * 100_000
    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert dad.post("/0/given", content=big, headers=kind).status_code == 413
    assert dad.post("/0/given", content=iter([big]), headers=kind).status_code == 413


def test_script_in_a_name_stays_text_and_the_policy_lets_none_run(store):
    answer = phone(store, "mia", label="<script>alert(1)</script>")
    log(answer)
    shown = answer.get("/0/")
    assert "&lt;script&gt;alert" in shown.text
    assert "<script>alert" not in shown.text
    assert "default-src 'none'; script-src 'self'" in shown.headers["content-security-policy"]


@pytest.mark.parametrize("path", ["/%2e%2e/gramrise.db", "/style.css/../../app.py", "/0/../../etc/passwd", "/assets/x"])
def test_no_address_leads_to_a_file(store, path):
    assert phone(store, "mia").get(path).status_code == 404


def test_the_homes_authority_is_handed_to_phones_and_no_key_ever_is(store):
    client = TestClient(page_app(store.home, store, lambda: NOW), base_url="http://127.0.0.1")
    assert client.get("/authority.pem").status_code == 404
    made = private_certificate(store.home, "home.lan", NOW)
    assert client.get("/authority.pem").content == made.authority.read_bytes()
    keys = [client.get(f"/{each.name}").status_code for each in store.home.joinpath("tls").glob("*-key.pem")]
    assert keys == [404, 404]


def test_a_bucket_empties_and_fills_again():
    clock = [0.0]
    bucket = Throttle(2, 60, lambda: clock[0])
    assert [bucket.allows("a") for _ in range(3)] == [True, True, False]
    clock[0] = 30.0
    assert bucket.allows("a")


def test_where_the_disk_is_full_the_page_says_first_that_it_may_not_be_logged(store, monkeypatch):
    """'The step that did not fit was undone whole' is no word for three in the night."""
    dad = phone(store, "mia")
    full = refused_by_disk(OSError(errno.ENOSPC, "No space left on device"))
    monkeypatch.setattr(PhoneLog, "log", lambda *_given, **_told: (_ for _ in ()).throw(full))
    answer = log(dad, amount="piece:3:tin")
    told = answer.json()["problem"]
    assert answer.status_code == 503
    assert told.index("This may not be logged: write it down on paper.") < told.index("the disk is full")
