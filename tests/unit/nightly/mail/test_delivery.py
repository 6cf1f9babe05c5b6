"""The weekly mail: never lost, twice only when the server took it and could not say so, then with the same id."""

import errno
import io
import os
import re
import smtplib
import socket
import threading
from contextlib import contextmanager, suppress
from datetime import date, datetime, timedelta
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default

import pytest
from support.mail_server import PASSWORD, mail_server
from support.nightly_home import START, child, doses_csv, drop, readings_csv, settled

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.nightly import check_health, run_night
from gramrise.nightly.mail import delivery, letters
from gramrise.nightly.mail.password import VARIABLE, smtp_password
from gramrise.nightly.mail.replies import Plain, Reply
from gramrise.nightly.mail.session import LetterRefused, hand_over
from gramrise.nightly.settings import Smtp, nightly_settings
from gramrise.report import compose
from gramrise.store.outbox import SENDING, SENT, WAITING, WITHDRAWN, Letter

SUNDAY = START + timedelta(hours=10)  # 1 March 2026, 22:00 UTC: after 18:00 in Berlin, 16:00 in Chicago


def letter(week=date(2026, 3, 1), who="mia", address="mia@example.org"):
    message_id = f"<{who}-{week}@example.org>"
    content = f"Message-ID: {message_id}\r\nTo: {address}\r\nSubject: week\r\n\r\nHello\r\n".encode()
    return Letter(message_id, who, "weekly", week, address, "parent", content)


def plain_mail(view, recipient, *, message_id, date, sender, **_):
    """A mail without its content, where only which mails go out is looked at."""
    mail = EmailMessage()
    mail["Message-ID"], mail["To"], mail["From"], mail["Subject"] = message_id, recipient, sender, str(view.week_end)
    mail.set_content(f"written {date}")
    return mail


@pytest.fixture
def post(home, tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, PASSWORD)
    with mail_server(tmp_path) as (running, smtp):
        text = (home / "gramrise.toml").read_text()
        (home / "gramrise.toml").write_text(text + smtp)
        yield running


@pytest.fixture
def settings(home, post):
    return nightly_settings(home)


def states(store):
    return [each.state for each in store.outbox.all()]


def test_letters_go_out_encrypted_and_logged_in_each_once(store, home, post, settings):
    store.outbox.put([letter(), letter(who="tom", address="tom@example.org")], SUNDAY)
    done = delivery.deliver(store, home, SUNDAY, settings)
    assert (done.sent, done.waiting, states(store)) == (2, 0, [SENT, SENT])
    assert delivery.deliver(store, home, SUNDAY, settings).sent == 0
    assert sorted(post.ids) == ["<mia-2026-03-01@example.org>", "<tom-2026-03-01@example.org>"]


@pytest.mark.parametrize(
    ("trouble", "said"),
    [("later", "answered 451"), ("hang", "did not answer in time"), ("drop_after_data", "broke off")],
)
def test_a_letter_the_server_did_not_confirm_waits_and_goes_out_later(store, home, post, settings, trouble, said):
    store.outbox.put([letter()], SUNDAY)
    post.behave = trouble
    done = delivery.deliver(store, home, SUNDAY, settings)
    assert (done.sent, done.waiting) == (0, 1)
    assert said in done.trouble
    post.behave = "ok"
    assert delivery.deliver(store, home, SUNDAY + timedelta(minutes=1), settings).sent == 0
    assert delivery.deliver(store, home, SUNDAY + timedelta(hours=1), settings).sent == 1
    # Only a server that took the letter and died before its answer gets a second copy, and it has the same id.
    assert post.ids == ["<mia-2026-03-01@example.org>"] * (2 if trouble == "drop_after_data" else 1)


def test_a_refused_recipient_does_not_hold_up_the_others(store, home, post, settings):
    store.outbox.put([letter(), letter(who="tom", address="tom@example.org")], SUNDAY)
    post.behave = "refuse_recipient"
    done = delivery.deliver(store, home, SUNDAY, settings)
    assert (done.sent, done.waiting) == (1, 1)
    assert "refused the recipient (550)" in done.trouble
    assert "mia" not in done.trouble


class Grants:
    """A server that says 354 to DATA whatever it refused before (RFC 5321, section 3.3); it keeps what it was told."""

    def __init__(self, to_recipient=550, to_data=354):
        self.told, self.sock = [], None
        self.to_recipient, self.to_data = to_recipient, to_data

    def ehlo_or_helo_if_needed(self):
        self.told.append("EHLO")

    def mail(self, *_):
        self.told.append("MAIL")
        return 250, b"ok"

    def rcpt(self, _):
        self.told.append("RCPT")
        return self.to_recipient, b""

    def docmd(self, word):
        self.told.append(word)
        return self.to_data, b""

    def rset(self):
        self.told.append("RSET")


def test_after_a_refused_recipient_no_letter_is_begun_even_where_the_server_would_let_it():
    server = Grants()
    with pytest.raises(LetterRefused, match="refused the recipient"):
        hand_over(server, smtp(), "mia@example.org", b"hello", lambda: server.told.append("DATA ends"))
    assert server.told == ["EHLO", "MAIL", "RCPT", "RSET"]


def test_a_letter_is_begun_by_354_alone():
    """RFC 5321, section 4.3.2: of the positive answers only the intermediate 354 lets the lines of a letter follow."""
    server = Grants(to_recipient=250, to_data=250)
    with pytest.raises(LetterRefused, match="nothing that can be read"):
        hand_over(server, smtp(), "mia@example.org", b"hello", lambda: server.told.append("DATA ends"))
    assert server.told == ["EHLO", "MAIL", "RCPT", "DATA", "RSET"]


def test_a_greeting_without_end_holds_no_night(store, home):
    with endless_greeting() as port:
        text = (home / "gramrise.toml").read_text("utf-8")
        told = f'[nightly.smtp]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nsender = "a@example.org"\n'
        (home / "gramrise.toml").write_text(text + told, "utf-8")
        store.outbox.put([letter()], SUNDAY)
        done = delivery.deliver(store, home, SUNDAY, nightly_settings(home))
    assert (done.sent, done.waiting) == (0, 1)


@contextmanager
def endless_greeting():
    """A server that greets with one line after the other and never comes to an end."""
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def greet():
            with suppress(OSError):
                while True:
                    client, _ = listening.accept()
                    with client, suppress(OSError):
                        while True:
                            client.sendall(b"220-x\r\n" * 100)

        threading.Thread(target=greet, daemon=True).start()
        yield listening.getsockname()[1]


def test_a_reply_that_drips_for_ever_ends_within_its_time(monkeypatch):
    clock = iter(range(0, 10_000, 40))
    monkeypatch.setattr("gramrise.nightly.mail.replies.time.monotonic", lambda: next(clock))
    ours, theirs = socket.socketpair()
    with ours, theirs:
        theirs.sendall(b"250-x\r\n" * 50)
        server = Plain()
        server.sock = ours
        ours.settimeout(300)
        with pytest.raises(smtplib.SMTPServerDisconnected):
            server.getreply()


class Drip(io.RawIOBase):
    """A server's greeting, a byte at a time and without an end."""

    def readable(self):
        return True

    def readinto(self, into):
        into[:1] = b"x"
        return 1


def test_a_line_that_drips_byte_by_byte_ends_within_its_time(monkeypatch):
    clock = iter(range(0, 10_000, 40))
    monkeypatch.setattr("gramrise.nightly.mail.replies.time.monotonic", lambda: next(clock))
    with pytest.raises(TimeoutError):
        Reply(io.BufferedReader(Drip()), 300).readline(8192)
    assert Reply(io.BufferedReader(io.BytesIO(b"220 hello\r\n221 bye\r\n")), 300).readline(8192) == b"220 hello\r\n"
    assert Reply(io.BufferedReader(io.BytesIO(b"220 hello")), 300).readline(4) == b"220 "


def test_an_address_on_which_the_server_hangs_waits_behind_all_others(store, home, post, settings):
    weeks = [date(2026, 3, 1) + timedelta(days=7 * n) for n in range(3)]
    mine = [letter(week=week) for week in weeks]
    store.outbox.put([*mine, letter(who="tom", address="tom@example.org")], SUNDAY)
    post.behave = "hang_on_one"
    quick = settings.model_copy(update={"smtp": settings.smtp.model_copy(update={"timeout_seconds": 0.5})})
    done = delivery.deliver(store, home, SUNDAY, quick.model_copy(update={"most_broken_sessions": 2}))
    assert post.ids == ["<tom-2026-03-01@example.org>"]
    assert (done.sent, done.waiting) == (1, 3)


def test_a_sender_has_a_name_of_any_letters_and_the_server_is_told_the_address_alone(store, home, post):
    text = (home / "gramrise.toml").read_text("utf-8")
    named = text.replace('sender = "gramrise@example.org"', 'sender = "Familie Müller <gramrise@example.org>"')
    (home / "gramrise.toml").write_text(named, "utf-8")
    settings = nightly_settings(home)
    assert (settings.smtp.sender_name, settings.smtp.sender_address) == ("Familie Müller", "gramrise@example.org")
    drop(home, "mia", "a.csv", readings_csv(START - timedelta(days=2), 48))
    run_night(store, home, SUNDAY)
    (mail, *_) = post.mails
    assert str(mail["From"]) == "Familie Müller <gramrise@example.org>"
    with pytest.raises(ValueError, match="sender must be the address"):
        smtp(sender="Familie Müller")


@pytest.mark.parametrize("content", [None, "no certificate\n"])
def test_a_trust_file_without_a_certificate_is_named_and_the_letter_waits(
    store, home, post, settings, tmp_path, content
):
    file = tmp_path / "none.pem"
    if content is not None:
        file.write_text(content, "ascii")
    store.outbox.put([letter()], SUNDAY)
    wrong = settings.model_copy(update={"smtp": settings.smtp.model_copy(update={"trust_file": str(file)})})
    assert (
        "none.pem' under smtp.trust_file holds no certificate" in delivery.deliver(store, home, SUNDAY, wrong).trouble
    )
    assert (states(store), post.taken) == ([WAITING], [])


def test_a_sender_on_two_lines_is_refused(settings):
    with pytest.raises(ValueError, match="one line"):
        Smtp.model_validate(settings.smtp.model_dump() | {"sender": "Fam\r\nBcc: e@example.org <f@example.org>"})


def test_a_sender_may_have_an_umlaut_before_the_at(store, home, settings):
    """The server is asked whether it takes such addresses; the report is not called unwritable."""
    drop(home, "mia", "week.csv", readings_csv(START - timedelta(days=2), 44))
    run_night(store, home, SUNDAY)
    view = letters.view_of_week(store, "mia", date(2026, 3, 1), SUNDAY, home)
    told = {"message_id": "<a@example.org>", "date": SUNDAY, "sender": "f\xe4m@example.org", "sender_name": "F\xe4m"}
    message = compose(view, "mia@example.org", **told)
    assert message["From"].addresses[0].addr_spec == "f\xe4m@example.org"
    assert "f\xe4m@example.org" in bytes(message).decode()


def test_an_address_with_a_slip_costs_nobody_else_a_letter_or_a_night(store, home, post):
    lines = (home / "gramrise.toml").read_text("utf-8")
    assert "mia@example.org" in lines
    (home / "gramrise.toml").write_text(lines.replace("mia@example.org", "mia@example.org, a@example.org"), "utf-8")
    for minutes, who in ((0, "mia"), (3, "tom")):
        drop(home, who, "march.csv", readings_csv(START - timedelta(days=6, minutes=minutes), 160))
    evening = SUNDAY + timedelta(hours=4)  # after 18:00 for both
    night = run_night(store, home, evening)
    assert (night.files, night.failed) == (2, 0)
    assert [line for line in night.held if "mia" in line and "'mia@example.org, a@example.org'" in line]
    assert {each.person_id for each in store.outbox.all()} == {"tom"}
    found = {each.code: each.sentence for each in check_health(home, evening).findings}
    assert "it is not one address" in found["address_wrong"]


def test_a_letter_cut_off_while_sending_goes_out_again_with_the_same_id(store, home, post, settings):
    store.outbox.put([letter()], SUNDAY)
    store.outbox.sending(letter().message_id)
    assert states(store) == [SENDING]
    delivery.deliver(store, home, SUNDAY, settings)
    assert (states(store), post.ids) == ([SENT], [letter().message_id])


def test_a_letter_whose_recipient_was_taken_off_the_list_is_withdrawn(store, home, post, settings):
    store.outbox.put([letter(address="grandma@example.org")], SUNDAY)
    delivery.deliver(store, home, SUNDAY, settings)
    assert (states(store), post.taken) == ([WITHDRAWN], [])


@pytest.mark.parametrize(
    ("change", "said"),
    [({"port": 1}, "cannot be reached"), ({"trust_file": ""}, "certificate is not trusted")],
)
def test_a_server_that_is_not_there_or_not_trusted_gets_nothing(store, home, post, settings, change, said):
    store.outbox.put([letter()], SUNDAY)
    wrong = settings.model_copy(update={"smtp": settings.smtp.model_copy(update=change)})
    assert said in delivery.deliver(store, home, SUNDAY, wrong).trouble
    assert (states(store), post.taken) == ([WAITING], [])


def test_a_wrong_password_is_told_and_the_letter_waits(store, home, post, settings, monkeypatch):
    monkeypatch.setenv(VARIABLE, "wrong")
    store.outbox.put([letter()], SUNDAY)
    assert "answered 535" in delivery.deliver(store, home, SUNDAY, settings).trouble


def test_pauses_between_tries_double_up_to_the_longest(settings):
    pauses = [delivery.pause(n, settings) / timedelta(minutes=1) for n in range(8)]
    assert pauses == [10, 20, 40, 80, 160, 320, 360, 360]


def test_a_clock_set_back_does_not_keep_a_letter_waiting_for_the_old_time(store, home, post, settings):
    ahead = SUNDAY + timedelta(days=300)
    store.outbox.put([letter()], ahead)
    store.outbox.later(letter().message_id, ahead + timedelta(hours=6), "")
    assert delivery.deliver(store, home, SUNDAY, settings).sent == 1


def test_without_a_server_letters_become_files_only_their_owner_can_read(store, home):
    settings = settled(home)
    store.outbox.put([letter()], SUNDAY)
    delivery.deliver(store, home, SUNDAY, settings)
    (written,) = (home / "outbox").iterdir()
    assert written.suffix == ".eml"
    assert written.stat().st_mode & 0o777 == 0o600
    assert message_from_bytes(written.read_bytes(), policy=default)["Message-ID"] == letter().message_id
    assert states(store) == [SENT]


@pytest.mark.parametrize(
    ("code", "why"),
    [
        (errno.ENOSPC, "the disk of the folder 'reports' is full"),
        (errno.EROFS, "the disk of the folder 'reports' may only be read"),
        (errno.EACCES, "the folder 'reports' cannot be written (PermissionError)"),
    ],
)
def test_a_full_disk_under_the_reports_costs_nobody_else_a_letter(store, home, monkeypatch, code, why):
    """`reports` may lie on a disk of its own: one report that had no room there took everybody's letters."""
    settings = (home / "gramrise.toml").read_text("utf-8")
    (home / "gramrise.toml").write_text(re.sub(r"(?m)^mia = .*$", "", settings), "utf-8")
    monkeypatch.setattr("gramrise.report.weekly.pages.mail.compose", plain_mail)

    def no_room(path, _content, **_told):
        raise OSError(code, os.strerror(code), str(path))

    with monkeypatch.context() as full:
        full.setattr("gramrise.nightly.mail.weekly.write_whole", no_room)
        for who, minute in (("mia", 0), ("tom", 2)):
            drop(home, who, "week.csv", readings_csv(START - timedelta(days=2, minutes=minute), 44, low_at=20 + minute))
        night = run_night(store, home, SUNDAY + timedelta(hours=3))
    assert night.failed == 1
    assert any(why in told for told in night.held)
    assert any(
        each.code == "report_failed" and why in each.sentence
        for each in check_health(home, SUNDAY + timedelta(hours=3)).findings
    )
    assert [each.person_id for each in store.outbox.all()] == ["tom"]
    run_night(store, home, SUNDAY + timedelta(days=1))
    assert (home / "reports" / "mia-2026-03-01.pdf").exists()


def test_a_full_disk_under_the_outbox_is_named_and_no_server_is_blamed(store, home, monkeypatch):
    store.outbox.put([letter()], SUNDAY)

    def no_room(path, _content, **_told):
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    monkeypatch.setattr(delivery, "write_whole", no_room)
    assert (
        delivery.deliver(store, home, SUNDAY, nightly_settings(home)).trouble
        == "the disk of the folder 'outbox' is full"
    )
    (told,) = [each.sentence for each in check_health(home, SUNDAY).findings if each.code == "mail_waiting"]
    assert "the disk of the folder 'outbox' is full" in told
    assert "smtp" not in told


def test_the_week_is_written_for_parents_once_and_its_subject_names_nobody_and_no_value(store, home, post):
    drop(home, "mia", "week.csv", readings_csv(START - timedelta(days=2), 44, low_at=20))
    run_night(store, home, SUNDAY)
    run_night(store, home, SUNDAY + timedelta(hours=1))
    (mail,) = post.mails
    assert (mail["To"], mail["From"]) == ("mia@example.org", "gramrise@example.org")
    assert "mia" not in mail["Subject"].lower()
    assert "62" not in mail["Subject"]
    assert mail["Date"].datetime == SUNDAY
    assert [part.get_content_type() for part in mail.iter_attachments()] == ["application/pdf"]


def test_a_week_without_readings_owes_no_mail_and_late_readings_bring_it(store, home, post, settings, monkeypatch):
    monkeypatch.setattr("gramrise.report.weekly.pages.mail.compose", plain_mail)
    run_night(store, home, SUNDAY)
    assert post.taken == []
    drop(home, "mia", "week.csv", readings_csv(START - timedelta(days=2), 44))
    run_night(store, home, SUNDAY + timedelta(days=2))
    assert len(post.taken) == 1


def test_a_week_told_without_any_reading_is_told_anew_when_its_readings_come(store, home, post, monkeypatch):
    """A dose log came first, the export waited for its layout: four reports said "no readings" for good."""
    monkeypatch.setattr("gramrise.report.weekly.pages.mail.compose", plain_mail)
    drop(home, "mia", "log.csv", doses_csv(START - timedelta(days=2)))
    run_night(store, home, SUNDAY)
    drop(home, "mia", "week.csv", readings_csv(START - timedelta(days=2), 44))
    run_night(store, home, SUNDAY + timedelta(days=1))
    run_night(store, home, SUNDAY + timedelta(days=2))
    first, second = post.mails
    assert (first["Subject"], second["Subject"]) == ("2026-03-01", "2026-03-01")
    assert first["Message-ID"] != second["Message-ID"]


def test_after_a_long_pause_at_most_a_months_weeks_are_sent_oldest_first(store, home, post, settings, monkeypatch):
    monkeypatch.setattr("gramrise.report.weekly.pages.mail.compose", plain_mail)
    drop(home, "mia", "weeks.csv", readings_csv(START - timedelta(days=50), 24 * 50))
    run_night(store, home, SUNDAY)
    weeks = [each.for_on for each in sorted(store.outbox.all(), key=lambda each: each.for_on)]
    assert weeks == [date(2026, 2, 8) + timedelta(days=7 * n) for n in range(4)]


def test_the_message_id_is_the_same_however_often_a_week_is_written(store, home):
    first = letters.message_id_of(store, child(), date(2026, 3, 1), "mia@example.org", "g@example.org")
    again = letters.message_id_of(store, child(), date(2026, 3, 1), "mia@example.org", "g@example.org")
    other = letters.message_id_of(store, child(), date(2026, 3, 8), "mia@example.org", "g@example.org")
    assert first == again != other
    assert "mia" not in first


def smtp(**changes):
    plain = {
        "host": "mail.example.org",
        "port": 587,
        "security": "starttls",
        "user": "u",
        "password_file": "",
        "sender": "a@example.org",
        "trust_file": "",
        "timeout_seconds": 5.0,
        "taken_timeout_seconds": 5.0,
    }
    return Smtp(**{**plain, **changes})


def test_a_password_file_others_can_read_is_refused(tmp_path, monkeypatch):
    monkeypatch.delenv(VARIABLE, raising=False)
    secret = tmp_path / "secret"
    secret.write_text("correct horse\n")
    secret.chmod(0o640)
    with pytest.raises(CouldNotRun, match="chmod 600"):
        smtp_password(smtp(password_file=str(secret)))
    secret.chmod(0o600)
    assert smtp_password(smtp(password_file=str(secret))) == "correct horse"
    with pytest.raises(CouldNotRun, match=VARIABLE):
        smtp_password(smtp())


def test_mail_to_another_machine_without_encryption_is_refused_in_the_settings(home):
    with pytest.raises(WrongUse, match="starttls or tls"):
        settled(home, '\n[nightly.smtp]\nhost = "mail.example.org"\nsecurity = "none"\nsender = "a@b.org"\n')
    with pytest.raises(ValueError, match="sender"):
        smtp(sender="")


def test_every_trouble_of_a_server_has_words_without_addresses():
    troubles = [
        smtplib.SMTPRecipientsRefused({"mia@example.org": (550, b"mia unknown")}),
        smtplib.SMTPServerDisconnected("mia"),
        smtplib.SMTPDataError(451, b"mia"),
        TimeoutError("mia"),
        ConnectionRefusedError("mia"),
    ]
    assert all("mia" not in delivery.said(trouble) for trouble in troubles)


@pytest.mark.parametrize(
    ("code", "told"),
    [
        (-1, "nothing that can be read"),
        (0, "nothing that can be read"),
        (999, "nothing that can be read"),
        (451, "451"),
    ],
)
def test_an_answer_without_a_number_of_mails_is_not_told_as_one(code, told):
    assert delivery.said(smtplib.SMTPDataError(code, b"?")) == f"the server answered {told}"


def test_the_time_of_sending_is_kept(store, home, post, settings):
    store.outbox.put([letter()], SUNDAY)
    delivery.deliver(store, home, SUNDAY, settings)
    (sent,) = store.outbox.all(SENT)
    assert isinstance(sent.sent_at_utc, datetime)
    assert (sent.sent_at_utc, sent.attempts) == (SUNDAY, 1)
