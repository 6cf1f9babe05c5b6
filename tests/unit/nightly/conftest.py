"""A home with two children in two zones."""

import pytest
from nightly_home import child, settled

from gramrise.store import Store


@pytest.fixture
def home(tmp_path):
    folder = tmp_path / "home"
    settled(folder)
    return folder


@pytest.fixture
def store(home):
    with Store.open(home) as opened:
        opened.save_person(child("mia", "Europe/Berlin"))
        opened.save_person(child("tom", "America/Chicago"))
        yield opened
