"""The page as a process: over TLS with the home's own certificate, nights beside it, and ended in good order."""

import http.client
import os
import signal
import socket
import ssl
import subprocess
import sys
import time

import pytest
from support.nightly_home import START, child, drop, readings_csv, settled

from gramrise.store import Store

pytestmark = pytest.mark.slow


@pytest.fixture
def free_port():
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]


@pytest.fixture
def served(tmp_path, free_port):
    home = tmp_path / "home"
    settled(home)
    with Store.open(home) as store:
        store.save_person(child())
    drop(home, "mia", "trace.csv", readings_csv(START, 13))
    words = ["serve", "--port", str(free_port), "--private-certificate", "--schedule"]
    command = [sys.executable, "-m", "gramrise", "--home", str(home), *words]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ)
    yield home, process
    process.kill()


def until(what, seconds=60):
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        if found := what():
            return found
        time.sleep(0.2)
    raise AssertionError("it did not come")


def test_the_page_speaks_tls_does_the_nights_and_ends_with_both(served, free_port):
    home, process = served
    until((home / "tls" / "certificate.pem").exists)
    context = ssl.create_default_context(cafile=str(home / "tls" / "authority.pem"))

    def answered():
        try:
            connection = http.client.HTTPSConnection("localhost", free_port, context=context, timeout=5)
            connection.request("GET", "/")
            return connection.getresponse().status
        except OSError:
            return None

    assert until(answered) == 401
    until(lambda: [*(home / "inbox" / "mia" / "done").glob("trace*")])
    process.send_signal(signal.SIGTERM)
    assert process.wait(60) == 0
