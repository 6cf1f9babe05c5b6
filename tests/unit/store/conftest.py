"""A home with one child. Always in the same place, so that compiled statements are kept from test to test."""

import shutil

import pytest
from support.store_logs import child

from gramrise.store import Store


@pytest.fixture(scope="session")
def made_once(tmp_path_factory):
    """The bytes of a database with the child in it."""
    folder = tmp_path_factory.mktemp("store-made-once")
    with Store.open(folder) as store:
        store.save_person(child())
    return (folder / "gramrise.db").read_bytes()


@pytest.fixture
def home(tmp_path_factory):
    """Where the home will be; it is not there yet."""
    folder = tmp_path_factory.getbasetemp() / "store-home"
    shutil.rmtree(folder, ignore_errors=True)
    return folder


def pytest_generate_tests(metafunc):
    """Every test of a store runs over both databases, but for those marked as being about the file."""
    if "store" in metafunc.fixturenames:
        in_a_file = metafunc.definition.get_closest_marker("in_a_file")
        metafunc.parametrize("store", ["sqlite"] if in_a_file else ["sqlite", "postgresql"], indirect=True)


@pytest.fixture
def store(request, home):
    """The child's store, once in a file of SQLite's and once in a server's database."""
    home.mkdir(mode=0o700)
    if request.param == "postgresql":
        url = request.getfixturevalue("postgres_url")
        (home / "gramrise.toml").write_text(f'database = "{url}"\n')
        with Store.open(home) as opened:
            opened.save_person(child())
            yield opened
        return
    (home / "gramrise.db").touch(0o600)
    (home / "gramrise.db").write_bytes(request.getfixturevalue("made_once"))
    with Store.open(home) as opened:
        yield opened
