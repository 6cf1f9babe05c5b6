"""Homes for tests of the page: each kind is made once a worker, and copied for every test."""

import shutil

import pytest

from gramrise.store import Store


@pytest.fixture(scope="session")
def made_homes():
    return {}


@pytest.fixture
def store_like(made_homes, tmp_path_factory, tmp_path):
    """Opens the store of a copy of a home that `fill(store)` has filled once."""
    opened = []

    def like(fill):
        if fill not in made_homes:
            made_homes[fill] = tmp_path_factory.mktemp("made") / "home"
            with Store.open(made_homes[fill]) as store:
                fill(store)
        shutil.copytree(made_homes[fill], tmp_path / "home")
        opened.append(Store.open(tmp_path / "home"))
        return opened[-1]

    yield like
    for store in opened:
        store.close()
