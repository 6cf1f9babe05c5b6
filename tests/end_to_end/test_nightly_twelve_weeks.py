"""Twelve weeks of two families under the schedule: every week's report arrives once, at a real mail server."""

from datetime import date, timedelta

import pytest
from support.mail_server import PASSWORD, mail_server
from support.twelve_weeks import SAMPLES, SETTINGS, WEEK, WEEKS, live

from gramrise.cli.demonstration import read_families
from gramrise.nightly.mail.password import VARIABLE
from gramrise.store import Store

pytestmark = pytest.mark.slow


def test_a_sample_familys_twelve_weeks_arrive_as_twelve_mails_each_once(tmp_path, monkeypatch):
    """One family, woken once a week; tests/benchmark/nightly_twelve_weeks.py lives through every night of both."""
    monkeypatch.setenv(VARIABLE, PASSWORD)
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with mail_server(tmp_path) as (post, smtp):
        (home / "gramrise.toml").write_text(SETTINGS + smtp, encoding="utf-8")
        live(home, read_families(SAMPLES)[:1], WEEK)
        mails = post.mails
    assert {mail["To"] for mail in mails} == {"robin.family@example.org"}
    assert len(mails) == len({mail["Message-ID"] for mail in mails}) == WEEKS
    with Store.open(home) as store:
        weeks = sorted(letter.for_on for letter in store.outbox.all())
        assert weeks == [date(2025, 8, 31) + timedelta(days=7 * n) for n in range(WEEKS)]
        assert store.runs.failing("nightly") == store.runs.failing("weekly") == []
        assert not list((home / "inbox").glob("*/held/*"))
