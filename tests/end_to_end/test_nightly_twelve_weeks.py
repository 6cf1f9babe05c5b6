"""Twelve weeks of two families under the schedule: every week's report arrives once, at a real mail server."""

from datetime import date, timedelta
from pathlib import Path

import pytest
from mail_server import PASSWORD, mail_server
from twelve_weeks import WEEK, WEEKS, live

from gramrise.cli.demonstration import read_families
from gramrise.nightly.secret import VARIABLE
from gramrise.store import Store

SAMPLES = Path(__file__).parents[2] / "sample_exports"
SETTINGS = """
[nightly]
rest_seconds = 0
look_every_minutes = 1440
[nightly.recipients]
robin = [{ address = "robin.family@example.org" }]
kim = [{ address = "kim.family@example.org" }]
"""


@pytest.mark.slow
def test_the_samples_twelve_weeks_arrive_as_twelve_mails_a_family_each_once(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, PASSWORD)
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with mail_server(tmp_path) as (post, smtp):
        (home / "gramrise.toml").write_text(SETTINGS + smtp, encoding="utf-8")
        live(home, read_families(SAMPLES), WEEK)
        mails = post.mails
    for family in ("robin.family@example.org", "kim.family@example.org"):
        theirs = [mail for mail in mails if mail["To"] == family]
        assert len(theirs) == WEEKS
        assert len({mail["Message-ID"] for mail in theirs}) == WEEKS
    with Store.open(home) as store:
        expected = [date(2025, 8, 31) + timedelta(days=7 * n) for n in range(WEEKS)]
        for who in ("robin", "kim"):
            assert sorted(each.for_on for each in store.outbox.all() if each.person_id == who) == expected
        assert store.runs.failing("nightly") == store.runs.failing("weekly") == []
        assert not list((home / "inbox").glob("*/held/*"))
