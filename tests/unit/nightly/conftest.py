"""A home with two children in two zones. Always in the same place: compiled statements are kept from test to test."""

import shutil

import pytest
from support.nightly_home import child, settled

from gramrise.store import Store


@pytest.fixture(scope="session")
def made_once(tmp_path_factory):
    """The bytes of a database with the children in it."""
    folder = tmp_path_factory.mktemp("nightly-made-once")
    with Store.open(folder) as store:
        store.save_person(child("mia", "Europe/Berlin"))
        store.save_person(child("tom", "America/Chicago"))
    return (folder / "gramrise.db").read_bytes()


@pytest.fixture
def home(tmp_path_factory):
    folder = tmp_path_factory.getbasetemp() / "nightly-home"
    shutil.rmtree(folder, ignore_errors=True)
    settled(folder)
    return folder


@pytest.fixture
def store(home, made_once):
    (home / "gramrise.db").touch(0o600)
    (home / "gramrise.db").write_bytes(made_once)
    with Store.open(home) as opened:
        yield opened
