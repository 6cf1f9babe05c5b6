"""The page as a phone shows it: pressed twice, without network, taken back, by keyboard, and read by axe-core.

Needs Chromium and axe-core-python; without them it skips and says so. One browser for the whole file.
"""

import shutil
import threading
import time
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import sync_playwright
from support.nightly_home import child

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

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="NOT RUN: no Chromium on this machine (apt-get install chromium)"),
    pytest.mark.skipif(AXE is None, reason="NOT RUN: axe-core-python is missing"),
]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("page") / "home") as opened:
        opened.save_person(child())
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


@pytest.fixture
def phone(chromium, store, address):
    """A phone of 360 px that was let in."""
    link = f"link{time.monotonic_ns()}"
    store.devices.invite(["mia"], "parent", "Dad", hashed(link), datetime.now(UTC) + timedelta(hours=1))
    context = chromium.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{address}/in/{link}")
    page.click("button")
    page.wait_for_selector("#shared")
    yield page
    context.close()
    for change in store.last_changes("mia"):
        store.undo(change.change_id, datetime.now(UTC))


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


@pytest.mark.parametrize("path", ["/0/", "/0/help"])
def test_axe_finds_nothing_to_mend_and_nothing_is_wider_than_a_phone_at_twice_the_size(phone, address, path):
    phone.goto(address + path)
    spoken = phone.context.new_cdp_session(phone)  # the page's own policy lets no script of ours in
    spoken.send("Runtime.evaluate", {"expression": Path(AXE.origin).with_name("axe.min.js").read_text("utf-8")})
    assert phone.evaluate(RUN_AXE) == []
    phone.emulate_media(color_scheme="dark")
    assert phone.evaluate(RUN_AXE) == []
    phone.set_viewport_size({"width": 320, "height": 600})  # WCAG 1.4.10: 1280 px at 400 %, more than 200 % of 640
    assert phone.evaluate("document.documentElement.scrollWidth") <= 320
