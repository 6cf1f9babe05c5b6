"""A home with one child."""

import pytest
from store_logs import child

from gramrise.store import Store


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def store(home):
    with Store.open(home) as opened:
        opened.save_person(child())
        yield opened
