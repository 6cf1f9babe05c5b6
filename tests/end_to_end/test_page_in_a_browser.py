"""The page as a phone shows it: pressed twice, without network, taken back, by keyboard, and read by axe-core.

Needs Chromium and axe-core-python; without them it skips and says so. One browser for the whole file.
"""

import shutil
import threading
import time
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import uvicorn
from playwright.sync_api import sync_playwright
from support.nightly_home import START, child, doses_csv, readings_csv, settled

from gramrise.nightly import take_in_file
from gramrise.store import Store
from gramrise.web import page_app
from gramrise.web.guard.secrets import hashed

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
AXE = find_spec("axe_core_python")
TAGS = "['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']"
RUN_AXE = f"axe.run(document, {{runOnly: {TAGS}}}).then(found => found.violations.map(each => each.id))"

LOW_AT = START + timedelta(hours=10)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="NOT RUN: no Chromium on this machine (apt-get install chromium)"),
    pytest.mark.skipif(AXE is None, reason="NOT RUN: axe-core-python is missing"),
]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    home = tmp_path_factory.mktemp("page") / "home"
    settled(home)
    with (home / "gramrise.toml").open("a", encoding="utf-8") as kept:  # each test lets a device in of its own
        kept.write("[web]\nlet_in_tries_per_minute = 1000\n")
    with Store.open(home) as opened:
        opened.save_person(child())
        opened.save_person(child("tom"))
        for name, text in (("trace.csv", readings_csv(START, 13, 10)), ("log.csv", doses_csv(LOW_AT))):
            (home / name).write_text(text, "utf-8")
            take_in_file(opened, home, opened.person("tom"), home / name, datetime.now(UTC))
        yield opened


@pytest.fixture(scope="module")
def address(store):
    server = uvicorn.Server(uvicorn.Config(page_app(store.home, store), port=0, log_level="error"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(20)


@pytest.fixture(scope="module")
def chromium():
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()


BERLIN = ZoneInfo("Europe/Berlin")


def let_in(chromium, store, address, label):
    """A phone of 360 px that was let in, on the log."""
    link = f"link{time.monotonic_ns()}"
    store.devices.invite(["mia"], "parent", label, hashed(link), datetime.now(UTC) + timedelta(hours=1))
    page = chromium.new_context(viewport={"width": 360, "height": 740}).new_page()
    page.goto(f"{address}/in/{link}")
    page.click("button")
    page.wait_for_selector("#shared")
    return page


@pytest.fixture
def phone(chromium, store, address):
    page = let_in(chromium, store, address, "Dad")
    yield page
    page.context.close()
    for change in store.last_changes("mia"):
        store.undo(change.change_id, datetime.now(UTC))


@pytest.fixture
def nurse(chromium, store, address):
    """A clinic's browser that was let in for the other child."""
    link = f"clinic{time.monotonic_ns()}"
    store.devices.invite(["tom"], "clinic", "nurse", hashed(link), datetime.now(UTC) + timedelta(hours=1))
    context = chromium.new_context(viewport={"width": 1000, "height": 740})
    page = context.new_page()
    page.goto(f"{address}/in/{link}")
    page.click("button")
    page.wait_for_selector("h1")
    yield page
    context.close()


def given(store):
    return store.inputs("mia").doses.height


def test_an_amount_and_now_pressed_twice_are_one_entry_that_can_be_taken_back(phone, store):
    phone.locator(".targets input").nth(2).click()
    phone.locator(".when button").first.dblclick()
    phone.wait_for_selector(".given button")
    assert given(store) == 1
    phone.locator(".given button").click()
    phone.wait_for_selector(".given button", state="detached")
    assert given(store) == 0


def test_an_entry_made_without_network_waits_in_sight_and_is_handed_over_once(phone, store):
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.reload()  # from now on the worker keeps what is shown
    phone.reload()
    phone.context.set_offline(True)
    phone.reload()
    phone.locator(".targets input").first.click()
    phone.locator(".when button").nth(1).click()
    phone.wait_for_selector("#no-network:visible")
    assert "1\u00a0piece" in phone.locator("#waiting li").inner_text()
    assert given(store) == 0
    phone.context.set_offline(False)
    phone.wait_for_selector(".given button")
    assert given(store) == 1


def test_by_keyboard_alone_words_are_logged(phone, store):
    phone.locator("#words").focus()
    phone.keyboard.type("2 pieces tin")
    phone.keyboard.press("Enter")
    phone.wait_for_selector(".given button")
    assert given(store) == 1


FAMILY = (
    "/0/", "/0/help", "/0/food", "/0/more", "/0/lows", "/0/cards", "/0/stock", "/0/upload",
    "/0/questions", "/0/count", "/0/mix", "/0/changes",
)  # fmt: skip
TEAM = ("/0/panel", "/0/person", "/0/pairings", "/0/visit", "/0/sign")


@pytest.mark.parametrize("path", FAMILY)
def test_axe_finds_nothing_to_mend_and_nothing_is_wider_than_a_phone_at_twice_the_size(phone, address, path):
    assert_mended(phone, address + path)


@pytest.mark.parametrize("path", TEAM)
def test_the_review_too_is_readable_by_everybody(nurse, address, path):
    assert_mended(nurse, address + path)


def test_the_weekly_report_is_readable_by_everybody(phone, address):
    """Sandboxed, it runs nothing, not even axe: its text is read on a page of its own."""
    told = phone.request.get(address + "/0/report").text()
    phone.goto("about:blank")
    phone.set_content(told)
    assert_readable(phone)


def assert_mended(page, url):
    page.goto(url)
    assert_readable(page)


def assert_readable(page):
    spoken = page.context.new_cdp_session(page)  # the page's own policy lets no script of ours in
    spoken.send("Runtime.evaluate", {"expression": Path(AXE.origin).with_name("axe.min.js").read_text("utf-8")})
    assert page.evaluate(RUN_AXE) == []
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(RUN_AXE) == []
    page.set_viewport_size({"width": 320, "height": 600})  # WCAG 1.4.10: 1280 px at 400 %, more than 200 % of 640
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_food_logged_without_network_waits_and_is_handed_over_once(phone, store, address):
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.goto(address + "/0/food")
    phone.reload()
    phone.context.set_offline(True)
    phone.fill("input[name=grams]", "20")
    phone.locator(".when button").first.click()
    phone.wait_for_selector("#waiting:visible")
    assert "20 g" in phone.locator("#waiting li").inner_text()
    phone.context.set_offline(False)
    phone.wait_for_selector(".given button")
    assert store.inputs("mia").events["amount"].to_list() == [20.0]


def test_a_file_is_brought_its_question_answered_and_both_taken_back_by_hand(phone, store, address, tmp_path):
    (tmp_path / "log.csv").write_text("time,glucose given\n2026-03-01T12:00+00:00,3\n", "utf-8")
    phone.goto(address + "/0/more")
    phone.click("text=Bring a file")
    phone.set_input_files("input[type=file]", tmp_path / "log.csv")
    phone.click("text=Take them in")
    phone.wait_for_selector("text=1 to be asked")
    phone.click("main a.button")
    phone.locator(".choices input").first.check()
    phone.click("button:has-text('Answer')")
    phone.wait_for_selector("text=No questions are waiting")
    assert store.inputs("mia").doses["grams"].to_list() == [12.0]
    phone.goto(address + "/0/changes")
    for _ in range(2):
        phone.locator("button").first.click()
        phone.wait_for_selector("[role=status]")
    assert given(store) == 0


def test_a_number_is_signed_by_keyboard_alone(nurse, store, address):
    nurse.goto(address + "/0/panel")
    nurse.click("text=tom")
    nurse.click("text=Sign-off")
    nurse.locator("input[value=accepted]").focus()
    nurse.keyboard.press("Space")
    nurse.keyboard.press("Tab")
    nurse.keyboard.type("Dr. Vogel")
    nurse.keyboard.press("Enter")
    nurse.wait_for_selector("text=Signed as no. 1")
    assert store.references_of("tom")[0].signed_by == "Dr. Vogel"


def test_a_tin_is_counted_by_touch(phone, store, address):
    phone.goto(address + "/0/count")
    phone.fill("input[name=new_tin]", "school tin")
    phone.fill("input[name=left]", "13")
    phone.fill("input[name=filled]", "20")
    phone.click("text=Keep this count")
    phone.wait_for_selector("text=7 of 20 pieces of tin gone")
    assert [each.pieces_left for each in store.supplies.counts("mia")] == [13]


def one_piece_now(phone):
    phone.click("text=1\u00a0piece")
    phone.click(".when >> text=now")


def outbox(phone):
    return phone.evaluate("JSON.parse(localStorage.getItem('gramrise-outbox') || '[]')")


def emptied(phone):
    """Whether the outbox is empty within ten seconds."""
    for _ in range(100):
        if not outbox(phone):
            return True
        phone.wait_for_timeout(100)
    return False


def logged(store):
    return store.inputs("mia").doses["amount"].to_list()


def test_an_entry_that_is_asked_about_stays_on_the_phone_until_it_is_answered(phone, store, address, chromium):
    mum = let_in(chromium, store, address, "Mum")
    one_piece_now(mum)
    mum.wait_for_selector(".said")
    phone.click("text=2\u00a0pieces")
    phone.click(".when >> text=now")
    phone.wait_for_selector("text=Is yours another amount?")
    assert phone.locator("text=Yours: 2\u00a0pieces of tin").count() == 1
    phone.goto(f"{address}/0/")  # left without an answer
    phone.wait_for_selector("#waiting >> text=Is it another amount")
    assert [each["fields"]["amount"] for each in outbox(phone)] == ["piece:2:tin"]
    phone.click("#waiting >> text=Is it another amount")
    phone.click("text=Yes, another amount")
    phone.wait_for_selector(".said")
    assert emptied(phone)
    assert sorted(logged(store)) == [1.0, 2.0]
    mum.context.close()


def test_leaving_the_same_amount_empties_the_outbox_and_logs_nothing_more(phone, store, address, chromium):
    mum = let_in(chromium, store, address, "Mum")
    one_piece_now(mum)
    mum.wait_for_selector(".said")
    one_piece_now(phone)
    phone.click("text=it is the same")
    phone.wait_for_selector("#shared")
    assert (outbox(phone), logged(store)) == ([], [1.0])
    mum.context.close()


def test_a_page_that_was_kept_counts_on_from_the_true_time_and_says_no_ago(phone, store):
    one_piece_now(phone)
    phone.wait_for_selector(".said")
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.reload()
    phone.reload()
    phone.wait_for_selector("[data-look-again]")
    phone.context.set_offline(True)
    # Ten minutes pass on the phone.
    phone.add_init_script("const then = Date.now.bind(Date); Date.now = () => then() + 600000;")
    phone.reload()
    phone.wait_for_selector("#no-network:not([hidden])")
    left = phone.inner_text("[data-look-again]")
    assert left in {"Look again in 4 min", "Look again in 5 min"}
    assert not phone.locator("[data-ago]").first.is_visible()
    phone.context.set_offline(False)


def test_what_is_missing_is_said_beside_the_buttons_and_nothing_is_logged(phone, store):
    phone.click(".when >> text=now")
    assert phone.inner_text(".choose") == "First touch an amount above"
    phone.click("text=1\u00a0piece")
    assert phone.inner_text(".choose") == "1\u00a0piece, tin: Log it, swallowed:"
    phone.click("text=at this time")
    assert phone.inner_text(".choose") == "First write the time beside it"
    assert (outbox(phone), logged(store)) == ([], [])


def test_enter_in_the_field_of_the_time_asks_which_time_is_meant(phone, store):
    an_hour_ago = f"{datetime.now(BERLIN) - timedelta(hours=1):%H:%M}"
    phone.click("text=1\u00a0piece")
    phone.fill("#at", an_hour_ago)
    phone.press("#at", "Enter")
    phone.wait_for_selector("text=When was it swallowed?")
    assert logged(store) == []
    phone.click(f"text={an_hour_ago}")
    phone.wait_for_selector(".said")
    assert emptied(phone)
    assert logged(store) == [1.0]
    assert f"{store.inputs('mia').doses['taken_at_utc'][0].astimezone(BERLIN):%H:%M}" == an_hour_ago


def test_an_entry_of_a_child_whom_the_phone_may_no_longer_see_stands_there_and_is_logged_for_nobody(phone, store):
    fields = {"amount": "piece:1:tin", "minutes": "0", "whose": "gone"}
    entry = {"id": "c" * 32, "action": "/0/given", "fields": fields, "told": "1 piece", "pressed": time.time() * 1000}
    phone.evaluate("entry => localStorage.setItem('gramrise-outbox', JSON.stringify([entry]))", entry)
    phone.reload()
    phone.wait_for_selector("#waiting >> text=made for another child")
    assert logged(store) == []
    phone.click("#waiting >> text=Discard")
    assert emptied(phone)


def test_food_without_grams_and_words_is_not_logged(phone, store, address):
    phone.goto(f"{address}/0/food")
    phone.click(".when >> text=now")
    assert phone.inner_text(".choose") == "First write grams, or what it was"
    assert store.inputs("mia").events.height == 0


SLOWLY = """const send = window.fetch;
window.fetch = (where, how) => how?.method === "POST"
  ? new Promise(passed => setTimeout(passed, 2500)).then(() => send(where, how)) : send(where, how);
true"""


def amounts(store):
    return sorted(store.inputs("mia").doses.select("amount", "source").rows())


def test_another_amount_touched_while_the_first_is_on_its_way_waits_in_sight_and_is_logged_too(phone, store):
    phone.evaluate(SLOWLY)
    phone.click("text=2\u00a0pieces")
    phone.click(".when >> text=now")
    phone.wait_for_selector("#waiting >> text=2\u00a0pieces")
    phone.click("text=3\u00a0pieces")
    phone.click(".when >> text=20")
    phone.wait_for_selector("#waiting >> text=3\u00a0pieces", timeout=1500)
    assert [each["fields"]["amount"] for each in outbox(phone)] == ["piece:2:tin", "piece:3:tin"]
    assert amounts(store) == []  # both wait: nothing has come there yet
    phone.wait_for_selector(".given button")
    assert emptied(phone)
    assert amounts(store) == [(2.0, "tin"), (3.0, "tin")]


def test_words_touched_while_an_amount_is_on_its_way_are_logged_too(phone, store):
    phone.evaluate(SLOWLY)
    one_piece_now(phone)
    phone.fill("#words", "4 pieces tin 20 min ago")
    phone.press("#words", "Enter")
    phone.fill("#words", "2 pieces tin 40 min ago")
    phone.press("#words", "Enter")
    phone.wait_for_selector(".given button")
    assert emptied(phone)
    assert amounts(store) == [(1.0, "tin"), (2.0, "tin"), (4.0, "tin")]


def test_the_very_same_touched_again_while_it_is_on_its_way_is_one_entry(phone, store):
    phone.evaluate(SLOWLY)
    one_piece_now(phone)
    phone.wait_for_timeout(700)
    one_piece_now(phone)
    assert len(outbox(phone)) == 1
    phone.wait_for_selector(".given button")
    assert emptied(phone)
    phone.wait_for_timeout(300)
    assert amounts(store) == [(1.0, "tin")]


def test_a_felt_low_pressed_twice_without_network_is_one_and_again_later_is_another(phone, store, address):
    phone.goto(f"{address}/0/food")
    phone.context.set_offline(True)
    phone.locator("text=Log that it was felt").dblclick()
    phone.wait_for_selector("#waiting li")
    assert len(outbox(phone)) == 1
    phone.wait_for_timeout(2200)
    phone.click("text=Log that it was felt")
    assert len(outbox(phone)) == 2
    phone.context.set_offline(False)
    phone.wait_for_selector(".given button")
    assert emptied(phone)
    assert store.inputs("mia").events.height == 2


POLL = "document.dispatchEvent(new Event('visibilitychange'))"


def test_the_list_of_an_open_page_follows_what_other_phones_log_and_take_back(phone, store, address, chromium):
    one_piece_now(phone)
    phone.wait_for_selector(".given button")
    mum = let_in(chromium, store, address, "Mum")
    mum.fill("#words", "2 pieces tin 30 min ago")
    mum.press("#words", "Enter")
    mum.wait_for_selector(".said")
    phone.evaluate(POLL)
    phone.wait_for_selector(".given >> text=2\u00a0pieces of tin (8\u00a0g)")
    assert phone.locator(".given button").count() == 2
    mum.locator(".given button").first.click()  # the latest: what the first phone logged
    mum.wait_for_selector(".said >> text=Taken back: 1\u00a0piece")
    phone.evaluate(POLL)
    phone.wait_for_selector(".given >> text=1\u00a0piece of tin", state="detached")
    phone.locator(".given button").click()
    phone.wait_for_selector(".said >> text=Taken back: 2\u00a0pieces")
    assert amounts(store) == []
    mum.context.close()


def test_how_long_ago_is_told_anew_in_the_list_under_a_thumb_that_stays_and_not_without_network(phone):
    one_piece_now(phone)
    phone.wait_for_selector(".given button")
    phone.evaluate("document.querySelector('.given [data-ago]').textContent = ', long ago'")
    phone.locator(".given button").focus()
    phone.evaluate(POLL)
    phone.wait_for_selector(".given >> text=long ago", state="detached")
    assert "min ago" in phone.inner_text(".given")
    assert phone.evaluate("document.activeElement.matches('.given button')")
    phone.context.set_offline(True)
    phone.evaluate(POLL)
    phone.wait_for_selector("#no-network:not([hidden])")
    assert "ago" not in phone.inner_text(".given")
    assert "1\u00a0piece of tin (4\u00a0g)" in phone.inner_text(".given")
    phone.context.set_offline(False)
    phone.evaluate(POLL)
    phone.wait_for_selector(".given >> text=min ago")
