"""No misbehaviour of a mail server costs another family its letter, doubles one without end, or passes unsaid."""

import smtplib
from dataclasses import replace
from datetime import timedelta

import pytest
from support.mail_server import mail_server
from support.nightly_home import START, child, settled

from faults import mail_servers
from gramrise.nightly.mail import session
from gramrise.nightly.mail.delivery import deliver
from gramrise.nightly.mail.password import VARIABLE
from gramrise.nightly.settings import nightly_settings
from gramrise.store import Store
from gramrise.store.outbox import SENT, WAITING

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("kind", mail_servers.KINDS, ids=lambda kind: kind.name)
def test_a_misbehaving_server_costs_nobody_else_a_letter_and_ends(tmp_path, kind):
    assert mail_servers.attack(tmp_path / "home", kind) == []


def test_there_are_at_least_thirteen_kinds_of_server():
    assert len({kind.name for kind in mail_servers.KINDS}) >= 13


@pytest.mark.parametrize("offered", [True, False], ids=["SMTPUTF8 offered", "SMTPUTF8 not offered"])
def test_an_umlaut_in_one_address_stops_nobody_elses_mail(tmp_path, offered):
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with Store.open(home) as store, mail_servers.server(None, utf8=offered) as (post, port):
        for who in mail_servers.FAMILIES:
            store.save_person(child(who))
        settings = mail_servers._settings(home, port, None)
        text = (home / "gramrise.toml").read_text().replace("mia@example.org", "jürgen@bücher.example")
        (home / "gramrise.toml").write_text(text)
        settings = nightly_settings(home)
        letters = [mail_servers.letter(who) for who in mail_servers.FAMILIES]
        letters[0] = replace(letters[0], recipient="jürgen@bücher.example")
        store.outbox.put(letters, START)
        told = deliver(store, home, START, settings)
        assert told.sent == (3 if offered else 2)
        assert ("beyond ASCII" in told.trouble) == (not offered)
        assert len(post.taken) == told.sent
        assert {each.message_id for each in store.outbox.all(WAITING)} == (set() if offered else {"<mia@example.org>"})
        assert all(b"\r\n.hidden\r\n" in content for content in post.taken)


def test_a_domain_with_an_umlaut_goes_to_every_server(tmp_path):
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with Store.open(home) as store, mail_servers.server(None, utf8=False) as (post, port):
        store.save_person(child("mia"))
        mail_servers._settings(home, port, None)
        text = (home / "gramrise.toml").read_text().replace("mia@example.org", "mia@bücher.example")
        (home / "gramrise.toml").write_text(text)
        store.outbox.put([replace(mail_servers.letter("mia"), recipient="mia@bücher.example")], START)
        assert deliver(store, home, START, nightly_settings(home)).sent == 1
        assert len(post.taken) == 1


def test_an_address_that_no_server_can_be_told_is_named_and_gets_no_mail(tmp_path):
    home = tmp_path / "home"
    for address in ("mia@exa..mple.org", "m" * 65 + "@example.org", "mia@" + "x" * 70 + ".org"):
        settled(home)
        text = (home / "gramrise.toml").read_text().replace("mia@example.org", address)
        (home / "gramrise.toml").write_text(text)
        settings = nightly_settings(home)
        assert [address[:80] in told for told in settings.wrong_addresses()] == [True]
        assert settings.weekly_recipients("mia") == ()


def test_a_password_with_an_umlaut_is_sent_as_it_is_and_a_wrong_one_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("support.mail_server.PASSWORD", "größer")
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with mail_server(tmp_path) as (post, smtp), Store.open(home) as store:
        store.save_person(child("mia"))
        settled(home)
        (home / "gramrise.toml").write_text((home / "gramrise.toml").read_text() + smtp)
        store.outbox.put([mail_servers.letter("mia")], START)
        monkeypatch.setenv(VARIABLE, "größter")
        assert "refused the user or the password" in deliver(store, home, START, nightly_settings(home)).trouble
        monkeypatch.setenv(VARIABLE, "größer")
        assert deliver(store, home, START + timedelta(hours=1), nightly_settings(home)).sent == 1
        assert len(post.taken) == 1


def test_a_letter_is_called_in_doubt_only_from_its_last_dot_on(tmp_path, monkeypatch):
    """Killed before the dot, the server has nothing; so no such kill uses up one of the copies in doubt."""
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    with Store.open(home) as store, mail_servers.server(None) as (post, port):
        store.save_person(child("mia"))
        settings = mail_servers._settings(home, port, None)
        store.outbox.put([mail_servers.letter("mia")], START)

        class Killed(BaseException):
            pass

        def killed(*_):
            raise Killed

        for number in range(5):
            with monkeypatch.context() as patched:
                patched.setattr(smtplib.SMTP, "send", killed)
                with pytest.raises(Killed):
                    deliver(store, home, START + timedelta(days=number), settings)
        (kept,) = store.outbox.all()
        assert (kept.state, kept.unanswered, post.taken) == (WAITING, 0, [])
        assert deliver(store, home, START + timedelta(days=6), settings).sent == 1


def test_the_times_a_server_is_waited_for_are_those_of_the_standard():
    settings = nightly_settings(None)
    assert settings.smtp.timeout_seconds >= 300
    assert settings.smtp.taken_timeout_seconds >= 600
    assert session.GO_ON == 354
    assert SENT == "sent"
