"""Letters leave: to the mail server, or as .eml files into the home where no server is named.

A letter is never lost: it waits in the store until a server has taken it. It goes out twice only if death falls between
the server taking it and its answer arriving; the second copy then carries the same message id.
"""

import hashlib
import os
import smtplib
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly.mail.password import smtp_password
from gramrise.nightly.settings import NightlySettings, Smtp
from gramrise.store import Letter, Store

OUTBOX: Final = "outbox"


@dataclass(frozen=True, slots=True)
class Delivered:
    """What became of the letters that were due; `trouble` is the last thing a server said, '' when all went."""

    sent: int = 0
    waiting: int = 0
    trouble: str = ""


def deliver(store: Store, home: Path, now_utc: datetime, settings: NightlySettings) -> Delivered:
    """Sends every letter that is due. Server troubles make letters wait, longer each time; they never raise."""
    due = []
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
        store.outbox.sending(letter.message_id)
        code = hashlib.sha256(letter.message_id.encode()).hexdigest()[:8]
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            write_whole(folder / f"{letter.for_on.isoformat()}-{letter.person_id}-{code}.eml", letter.message)
        except OSError as problem:
            trouble = f"the folder '{OUTBOX}' cannot be written ({type(problem).__name__})"
            store.outbox.later(letter.message_id, now_utc + pause(letter.attempts, settings), trouble)
            continue
        store.outbox.sent(letter.message_id, now_utc)
        sent += 1
    return Delivered(sent, len(due) - sent, trouble)


def write_whole(path: Path, content: bytes) -> None:
    """A file that is there whole or not at all, readable by its owner only."""
    growing = path.with_name(f".{path.name}.growing")
    handle = os.open(growing, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    os.replace(growing, path)


def _by_server(store: Store, due: list[Letter], now_utc: datetime, settings: NightlySettings) -> Delivered:
    """Each letter in a session of its own where the one before broke; a refused letter does not hold up the next."""
    sent, trouble = 0, ""
    left = list(due)
    while left:
        try:
            with _session(settings.smtp) as server:
                while left:
                    letter = left[0]
                    store.outbox.sending(letter.message_id)
                    server.sendmail(settings.smtp.sender, [letter.recipient], letter.message)
                    store.outbox.sent(letter.message_id, now_utc)
                    sent += 1
                    left.pop(0)
        except (smtplib.SMTPException, OSError, ssl.SSLError, CouldNotRun) as problem:
            trouble = said(problem)
            refused_alone = isinstance(problem, smtplib.SMTPRecipientsRefused | smtplib.SMTPDataError)
            for letter in left[:1] if refused_alone else left:
                store.outbox.later(letter.message_id, now_utc + pause(letter.attempts, settings), trouble)
            left = left[1:] if refused_alone else []
    return Delivered(sent, len(due) - sent, trouble)


@contextmanager
def _session(smtp: Smtp) -> Iterator[smtplib.SMTP]:
    """A session with the server, encrypted and logged in as the settings say."""
    trust = ssl.create_default_context(cafile=smtp.trust_file or None)
    if smtp.security == "tls":
        server: smtplib.SMTP = smtplib.SMTP_SSL(smtp.host, smtp.port, timeout=smtp.timeout_seconds, context=trust)
    else:
        server = smtplib.SMTP(smtp.host, smtp.port, timeout=smtp.timeout_seconds)
    try:
        if smtp.security == "starttls":
            server.starttls(context=trust)
        if smtp.user:
            server.login(smtp.user, smtp_password(smtp))
        yield server
        with suppress(smtplib.SMTPException, OSError):  # every letter is answered for; the parting is no matter
            server.quit()
    finally:
        server.close()


def said(problem: Exception) -> str:
    """What went wrong with the server, without addresses: they are names."""
    match problem:
        case smtplib.SMTPRecipientsRefused():
            code, _ = next(iter(problem.recipients.values()))
            told = f"the server refused the recipient ({code})"
        case smtplib.SMTPResponseException():
            told = f"the server answered {problem.smtp_code}"
        case smtplib.SMTPServerDisconnected() if not isinstance(problem.__context__, TimeoutError):
            told = "the server broke off"
        case ssl.SSLCertVerificationError():
            told = "the server's certificate is not trusted"
        case TimeoutError() | smtplib.SMTPServerDisconnected():
            told = "the server did not answer in time"
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
