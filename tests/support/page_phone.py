"""A phone or a clinic's device that was let in, talking to the page of a home without a server."""

import re
from datetime import UTC, datetime, timedelta

from starlette.testclient import TestClient

from gramrise.web import page_app
from gramrise.web.guard.secrets import hashed

NOW = datetime(2026, 3, 2, 1, 10, tzinfo=UTC)  # 02:10 in Berlin
ENTRY = "0123456789abcdef0123456789abcdef"


def phone(store, *people, role="parent", label="Dad", now=NOW):
    """A browser that was let in for these persons."""
    link = f"link-{label}-{role}"
    store.devices.invite(people, role, label, hashed(link), now + timedelta(hours=1))
    client = TestClient(page_app(store.home, store, lambda: now), base_url="http://127.0.0.1", follow_redirects=False)
    assert client.post(f"/in/{link}").status_code == 303
    return client


def again(store, client, now):
    """The same device at another time."""
    return TestClient(page_app(store.home, store, lambda: now), base_url="http://127.0.0.1", cookies=client.cookies)


def token(client, page="/0/"):
    """The token that the forms of a page carry."""
    return re.search(r'name="token" value="(\w+)"', client.get(page).text)[1]


def whose(client, page="/0/"):
    """Whose pages these are, as every entry of the log says."""
    return re.search(r'data-whose="(\w+)"', client.get(page).text)[1]


def send(client, path, files=None, page="/0/food", **fields):
    """A filled form sent; the answer, not followed."""
    return client.post(path, data={"token": token(client, page), "whose": whose(client, page)} | fields, files=files)


def said(client, answer):
    """The page that a form leads to, with what it says."""
    assert answer.status_code == 303, answer.text
    return client.get(answer.headers["location"]).text
