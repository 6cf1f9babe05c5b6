"""A clock that is ahead, set back, or in another zone: a week's letter goes out whole, and then once."""

from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default

import pytest
from support.nightly_home import child, drop, readings_csv, settled

from gramrise.nightly import run_night
from gramrise.nightly.mail import letters
from gramrise.nightly.night import anything_due, persons_due
from gramrise.nightly.workers import persons
from gramrise.store import WEEKLY, Store
from gramrise.store.outbox import SENT

pytestmark = pytest.mark.slow

SUNDAY_EVENING = datetime(2026, 3, 8, 19, tzinfo=UTC)  # past 18:00 in Berlin
WEEK = date(2026, 3, 8)


@pytest.fixture
def light(monkeypatch):
    """Letters that hold only the day of their week: when they go out is looked at here."""

    def plain(view, recipient, *, message_id, date, sender, **_):
        mail = EmailMessage()
        mail["Message-ID"], mail["To"], mail["From"], mail["Subject"] = message_id, recipient, sender, str(date)
        mail.set_content("week")
        return mail

    monkeypatch.setattr("gramrise.report.weekly.pages.mail.compose", plain)
    monkeypatch.setattr("gramrise.nightly.mail.letters.view_of_week", lambda *_: None)
    monkeypatch.setattr(persons, "bring_up_to_date", lambda *_, **__: None)


@pytest.fixture
def home(tmp_path):
    settled(tmp_path / "home")
    with Store.open(tmp_path / "home") as store:
        store.save_person(child("mia", "Europe/Berlin"))
    return tmp_path / "home"


def ids_of_week(store, week=WEEK):
    return [each.message_id for each in store.outbox.all(SENT) if each.for_on == week]


def subjects(store):
    return [message_from_bytes(each.message, policy=default)["Subject"] for each in store.outbox.all(SENT)]


@pytest.mark.parametrize("ahead", [timedelta(days=d) for d in (2, 4, 6.5, 8, 20)], ids=str)
def test_a_week_sent_early_by_a_clock_ahead_is_owed_again_once_it_is_right(home, light, ahead):
    right = SUNDAY_EVENING - timedelta(days=1, hours=20)
    drop(home, "mia", "begin.csv", readings_csv(right - timedelta(days=4), 90))
    with Store.open(home) as store:
        run_night(store, home, right + ahead)
        early = ids_of_week(store)
        assert len(early) == (1 if ahead >= timedelta(days=2) else 0)
        assert anything_due(store, right, letters_settings(home))
        run_night(store, home, right)
        assert ids_of_week(store) == early  # the week is not over yet
        drop(home, "mia", "end.csv", readings_csv(right - timedelta(hours=6), 48))
        for hours in (0, 1, 30):
            run_night(store, home, SUNDAY_EVENING + timedelta(hours=hours))
        both = ids_of_week(store)
        assert len(both) == 2
        assert len(set(both)) == 2  # a mail program would hide the whole week behind its beginning
        assert store.outbox.editions("mia", WEEKLY, WEEK) == 1


def letters_settings(home):
    from gramrise.nightly.settings import nightly_settings

    return nightly_settings(home)


@pytest.mark.parametrize(
    "back", [timedelta(hours=1), timedelta(days=1), timedelta(days=3), timedelta(days=20000)], ids=str
)
def test_a_clock_set_back_after_a_whole_week_sends_no_second_letter(home, light, back):
    drop(home, "mia", "week.csv", readings_csv(SUNDAY_EVENING - timedelta(days=6), 24 * 6 - 1))
    with Store.open(home) as store:
        run_night(store, home, SUNDAY_EVENING)
        assert len(ids_of_week(store)) == 1
        for at in (
            SUNDAY_EVENING - back,
            SUNDAY_EVENING - back + timedelta(hours=2),
            SUNDAY_EVENING + timedelta(days=1),
        ):
            run_night(store, home, at)
        assert len(ids_of_week(store)) == 1
        assert letters.early_weeks(store, SUNDAY_EVENING - back, letters_settings(home)) == []


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Niue", "Asia/Kathmandu", "America/St_Johns"])
def test_a_move_to_another_zone_on_the_day_of_the_letter_sends_it_once(home, light, zone):
    drop(home, "mia", "week.csv", readings_csv(SUNDAY_EVENING - timedelta(days=6), 24 * 6 - 1))
    with Store.open(home) as store:
        run_night(store, home, SUNDAY_EVENING)
        store.save_person(child("mia", zone))
        for hours in range(0, 48, 6):
            run_night(store, home, SUNDAY_EVENING + timedelta(hours=hours))
        assert len(ids_of_week(store)) == 1
        assert len(set(subjects(store))) == len(subjects(store)) == 1


def test_a_failure_noted_by_a_clock_ahead_does_not_keep_a_night_from_being_tried(home, light, monkeypatch):
    def fails(*_, **__):
        raise RuntimeError

    with Store.open(home) as store:
        monkeypatch.setattr(persons, "bring_up_to_date", fails)
        run_night(store, home, SUNDAY_EVENING + timedelta(hours=9))
        assert persons_due(store, SUNDAY_EVENING + timedelta(hours=9, minutes=5), letters_settings(home)) == set()
        assert persons_due(store, SUNDAY_EVENING, letters_settings(home)) == {"mia"}


def test_an_emptied_outbox_is_noticed(home, light):
    from gramrise.nightly import check_health

    drop(home, "mia", "week.csv", readings_csv(SUNDAY_EVENING - timedelta(days=6), 24 * 6 - 1))
    with Store.open(home) as store:
        run_night(store, home, SUNDAY_EVENING)
        assert "mail_lost" not in [each.code for each in check_health(home, SUNDAY_EVENING).findings]
        with store.writing() as connection:
            connection.exec_driver_sql("DELETE FROM outbox")
    assert "mail_lost" in [each.code for each in check_health(home, SUNDAY_EVENING).findings]
