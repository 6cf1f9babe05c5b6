"""What every test shares: one thread, so that sums repeat, and a frozen clock that keeps autumn's repeated hour."""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import datetime as dt

import freezegun.api as fa
import polars as pl
import pytest

# What polars loads when it first sees a datetime must be loaded before any clock is frozen, else it keeps the frozen
# class: a test after a frozen one then failed by the order of tests.
pl.DataFrame({"at": [dt.datetime.now(dt.UTC)]}).filter(pl.col("at") <= dt.datetime.now(dt.UTC))

# freezegun builds its datetimes without `fold`, so in the repeated hour of autumn the local clock is an hour early.


def _keep(d):
    return fa.FakeDatetime(d.year, d.month, d.day, d.hour, d.minute, d.second, d.microsecond, d.tzinfo, fold=d.fold)


_plain_now = fa.FakeDatetime.now.__func__


def _now(cls, tz=None):
    if tz is None:
        return _plain_now(cls, None)
    return _keep(fa.real_datetime.astimezone(cls._time_to_freeze().replace(tzinfo=dt.UTC), tz))


fa.datetime_to_fakedatetime = _keep
fa.FakeDatetime.now = classmethod(_now)


@pytest.fixture(scope="session")
def postgres_server():
    """A private PostgreSQL server, started when a test first asks for it."""
    from support.postgres import programs, running_server

    if programs() is None:
        pytest.skip("NOT RUN: no PostgreSQL server programs on this machine (apt-get install postgresql)")
    with running_server() as server:
        yield server


@pytest.fixture(scope="session")
def postgres_database(postgres_server):
    """The URL of a database with the tables of the newest step."""
    from pathlib import Path
    from tempfile import TemporaryDirectory

    from gramrise.store import Store

    url = postgres_server.new_database()
    with TemporaryDirectory() as folder:
        Store.open(Path(folder), url).close()
    return url


@pytest.fixture
def postgres_url(postgres_server, postgres_database):
    """The URL of a database with its tables made and nobody in it. The same one each time: emptying it is quick."""
    yield postgres_database
    postgres_server.empty(postgres_database)
