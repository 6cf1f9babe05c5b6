"""A phone that goes away in the middle of a form: nothing is logged, and nothing is said of it as a fault."""

import asyncio
import logging

import pytest
from support.nightly_home import child
from support.page_phone import NOW, phone

from gramrise.web import page_app


def one_child(store):
    store.save_person(child())


@pytest.fixture
def store(store_like):
    return store_like(one_child)


async def half_sent(app, path, cookie, kind, begun):
    """A form of which the first bytes come, and then no more; returns what was answered, though nobody hears it."""
    came = iter([{"type": "http.request", "body": begun, "more_body": True}, {"type": "http.disconnect"}])
    answered = []
    headers = [(b"host", b"127.0.0.1"), (b"cookie", cookie), (b"content-type", kind), (b"content-length", b"500")]
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "", "headers": headers,
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
    }  # fmt: skip

    async def receive():
        return next(came)

    async def send(message):
        answered.append(message)

    await app(scope, receive, send)
    return [message["status"] for message in answered if message["type"] == "http.response.start"]


@pytest.mark.parametrize("path", ["/0/given", "/0/upload"])
@pytest.mark.parametrize(
    ("kind", "begun"),
    [
        (b"application/x-www-form-urlencoded", b"token="),
        (b"multipart/form-data; boundary=x", b'--x\r\nContent-Disposition: form-data; name="token"\r\n\r\n12'),
    ],
)
def test_a_phone_that_goes_away_while_it_sends_leaves_no_fault(store, caplog, path, kind, begun):
    cookie = "; ".join(f"{name}={value}" for name, value in phone(store, "mia").cookies.items()).encode()
    app = page_app(store.home, store, lambda: NOW)
    with caplog.at_level(logging.DEBUG, "gramrise.web"):
        assert asyncio.run(half_sent(app, path, cookie, kind, begun)) == [400]
    assert caplog.records == []
    assert store.inputs("mia").doses.height == 0
