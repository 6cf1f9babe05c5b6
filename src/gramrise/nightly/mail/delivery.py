"""Letters leave: to the mail server, or as .eml files into the home where no server is named.

A letter waits in the store until a server has taken it. It goes out more than once only where it was handed over whole
and the answer was never heard; each copy carries the same message id, and after `most_unanswered` there are no more.
What a reachable server refuses for days is given up. `check` names both.
"""

import hashlib
import smtplib
import socket
import ssl
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from gramrise.config.private_files import write_whole
from gramrise.domain.problems import CouldNotRun, not_written
from gramrise.nightly.mail.session import NOTHING_READABLE, LetterRefused, Unanswered, hand_over, session
from gramrise.nightly.settings import NightlySettings
from gramrise.store import SENDING, Letter, Store

OUTBOX: Final = "outbox"
# Troubles that are the mail server's or the password's: letters wait. Any other is the home's and ends the pass.
MAIL_TROUBLES: Final = {"secret_missing", "secret_open", "could_not_run"}


@dataclass(frozen=True, slots=True)
class Delivered:
    """What became of the letters that were due; `trouble` is the last thing a server said, '' when all went."""

    sent: int = 0
    waiting: int = 0
    trouble: str = ""
    as_files: bool = False  # no server is set: they lie in the home's outbox


def deliver(store: Store, home: Path, now_utc: datetime, settings: NightlySettings) -> Delivered:
    """Sends every letter that is due. Server troubles make letters wait, longer each time; they never raise."""
    due = []
    for cut_off in store.outbox.all(SENDING):  # the machine died while the server was answering
        store.outbox.not_answered(cut_off.message_id, now_utc, "cut off while it was sent", settings.most_unanswered)
    for letter in store.outbox.due(now_utc):
        if letter.recipient in {each.address for each in settings.weekly_recipients(letter.person_id)}:
            due.append(letter)
        else:
            store.outbox.withdraw(letter.message_id)
    if not due:
        return Delivered()
    if not settings.smtp.host:
        return _as_files(store, home, due, now_utc, settings)
    return _by_server(store, due, now_utc, settings)


def _as_files(store: Store, home: Path, due: list[Letter], now_utc: datetime, settings: NightlySettings) -> Delivered:
    folder = home / OUTBOX
    sent, trouble = 0, ""
    for letter in due:
        store.outbox.trying(letter.message_id)
        code = hashlib.sha256(letter.message_id.encode()).hexdigest()[:8]
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            write_whole(folder / f"{letter.for_on.isoformat()}-{letter.person_id}-{code}.eml", letter.message)
        except OSError as problem:
            trouble = not_written(OUTBOX, problem)
            store.outbox.later(letter.message_id, now_utc + pause(letter.attempts, settings), trouble)
            continue
        store.outbox.sent(letter.message_id, now_utc)
        sent += 1
    return Delivered(sent, len(due) - sent, trouble, as_files=True)


def _by_server(store: Store, due: list[Letter], now_utc: datetime, settings: NightlySettings) -> Delivered:
    """Each letter in the session of the one before, or in a new one where that broke; its failure is its own."""
    sent, trouble, broken = 0, "", 0
    left = list(due)
    while left and broken < settings.most_broken_sessions:
        try:
            with session(settings.smtp) as server:
                while left:
                    letter = left.pop(0)
                    failed = _one_letter(store, server, letter, now_utc, settings)
                    sent, trouble, broken = (sent, failed, broken) if failed else (sent + 1, trouble, 0)
        except SessionBroken as problem:
            trouble, broken = str(problem), broken + 1
            left.sort(key=lambda one: one.recipient == letter.recipient)  # whoever it hangs on waits for the others
        except (smtplib.SMTPException, OSError, ssl.SSLError, CouldNotRun, UnicodeError) as problem:
            _refuse_home_trouble(problem)
            trouble = said(problem)
            break  # nobody can be reached, or nobody logged in: each letter would only meet it again
    for letter in left:
        store.outbox.later(letter.message_id, now_utc + pause(letter.attempts, settings), trouble)
    return Delivered(sent, len(due) - sent, trouble)


class SessionBroken(Exception):
    """The session ended with a letter; the next letter gets a new one. The text says what was noted of it."""


def _one_letter(
    store: Store, server: smtplib.SMTP, letter: Letter, now_utc: datetime, settings: NightlySettings
) -> str:
    """Hands over one letter and notes what came of it; '' when it was taken, else what was said.

    raises SessionBroken where the session cannot be used any more
    """
    key = letter.message_id
    store.outbox.trying(key)
    again = now_utc + pause(letter.attempts, settings)
    try:
        hand_over(server, settings.smtp, letter.recipient, letter.message, lambda: store.outbox.sending(key))
    except LetterRefused as problem:
        _wait_or_give_up(store, letter, now_utc, settings, str(problem))
        return str(problem)
    except Unanswered as problem:
        store.outbox.not_answered(key, again, str(problem), settings.most_unanswered)
        raise SessionBroken(str(problem)) from problem
    except (smtplib.SMTPException, OSError) as problem:
        store.outbox.later(key, again, said(problem))
        raise SessionBroken(said(problem)) from problem
    except (UnicodeError, ValueError) as problem:  # a letter or an address that cannot be written to the wire
        _wait_or_give_up(store, letter, now_utc, settings, f"it cannot be sent ({type(problem).__name__})")
        raise SessionBroken(f"a mail cannot be sent ({type(problem).__name__})") from problem
    store.outbox.sent(key, now_utc)
    return ""


def _wait_or_give_up(store: Store, letter: Letter, now_utc: datetime, settings: NightlySettings, trouble: str) -> None:
    """A letter refused for days is given up, and named by `check`; until then it is tried again."""
    written = letter.written_at_utc or now_utc
    if now_utc - written > timedelta(days=settings.give_up_refused_days):
        store.outbox.give_up(letter.message_id, trouble)
    else:
        store.outbox.later(letter.message_id, now_utc + pause(letter.attempts, settings), trouble)


def _refuse_home_trouble(problem: Exception) -> None:
    """Raises it again where the home is the trouble and not the server."""
    if isinstance(problem, CouldNotRun) and problem.code not in MAIL_TROUBLES:
        raise problem


def said(problem: Exception) -> str:
    """What went wrong with the server, without addresses: they are names."""
    match problem:
        case smtplib.SMTPNotSupportedError():
            told = "the server does not offer the encryption or the log-in that the settings ask for"
        case smtplib.SMTPAuthenticationError():
            told = f"the server refused the user or the password (it answered {problem.smtp_code})"
        case smtplib.SMTPResponseException():
            # smtplib says -1 where no number stands in the answer, and 500 of its own where a line has no end.
            readable = 200 <= problem.smtp_code < 600 and problem.smtp_error != "Line too long."
            told = f"the server answered {problem.smtp_code}" if readable else NOTHING_READABLE
        case smtplib.SMTPServerDisconnected() if not isinstance(problem.__context__, TimeoutError):
            told = "the server broke off"
        case ssl.SSLCertVerificationError():
            told = "the server's certificate is not trusted"
        case ssl.SSLError():
            told = "the server does not speak the encryption that the settings ask for"
        case TimeoutError() | smtplib.SMTPServerDisconnected():
            told = "the server did not answer in time"
        case socket.gaierror():
            told = "the server cannot be reached: no machine of that name is known"
        case CouldNotRun():
            told = problem.what
        case _:
            told = f"the server cannot be reached ({type(problem).__name__})"
    return told


def pause(attempts: int, settings: NightlySettings) -> timedelta:
    """How long to wait after so many tries: doubled each time up to the longest."""
    longest = timedelta(hours=settings.retry_longest_hours)
    doubled = timedelta(minutes=settings.retry_first_minutes * 2.0 ** min(attempts, 20))
    return min(doubled, longest)
