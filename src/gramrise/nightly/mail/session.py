"""One session with the mail server: encrypted, logged in, and one letter handed over at a time.

The moment that matters is the dot that ends a letter: before it the server has nothing, after it the server may have
taken the letter although its answer is never heard. `before_end` is called just before the dot goes out.
"""

import base64
import smtplib
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Final

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly.mail.password import smtp_password
from gramrise.nightly.mail.replies import Encrypted, Plain
from gramrise.nightly.settings import Smtp, wire_form

GO_ON: Final = 354  # the server waits for the letter
LOGGED_IN: Final = 235
ASKS: Final = 334

NOTHING_READABLE: Final = "the server answered nothing that can be read"


class Unanswered(Exception):
    """The letter was handed over whole, and no answer was heard: it may have been taken."""


class LetterRefused(Exception):
    """The server, or its lack of an extension, refuses this letter alone. The text holds no address."""


@contextmanager
def session(smtp: Smtp) -> Iterator[smtplib.SMTP]:
    """A session with the server, encrypted and logged in as the settings say."""
    trust = _trusted(smtp)
    if smtp.security == "tls":
        server: smtplib.SMTP = Encrypted(smtp.host, smtp.port, timeout=smtp.timeout_seconds, context=trust)
    else:
        server = Plain(smtp.host, smtp.port, timeout=smtp.timeout_seconds)
    try:
        if smtp.security == "starttls":
            server.starttls(context=trust)
        if smtp.user:
            _log_in(server, smtp.user, smtp_password(smtp))
        yield server
        _wait_at_most(server, smtp.timeout_seconds)
        with suppress(smtplib.SMTPException, OSError):  # every letter is answered for; the parting is no matter
            server.quit()
    finally:
        server.close()


def _trusted(smtp: Smtp) -> ssl.SSLContext:
    """Whose certificates are trusted. Raises CouldNotRun (code secret_missing) for a trust_file that holds none."""
    try:
        return ssl.create_default_context(cafile=smtp.trust_file or None)
    except (OSError, ValueError) as problem:  # ssl.SSLError is an OSError
        raise CouldNotRun(
            f"the file '{smtp.trust_file}' under smtp.trust_file holds no certificate that can be read",
            "name a file of certificates in PEM form, or leave trust_file empty",
            "secret_missing",
        ) from problem


def _log_in(server: smtplib.SMTP, user: str, password: str) -> None:
    """Logs in; a name or password with letters beyond ASCII goes as UTF-8 (RFC 4616), which the library refuses."""
    if user.isascii() and password.isascii():
        server.login(user, password)
        return
    server.ehlo_or_helo_if_needed()
    offered = server.esmtp_features.get("auth", "").upper().split()
    if "PLAIN" in offered:
        code, said = server.docmd("AUTH", f"PLAIN {_base64(f'{chr(0)}{user}{chr(0)}{password}')}")
    elif "LOGIN" in offered:
        code, said = server.docmd("AUTH", f"LOGIN {_base64(user)}")
        if code == ASKS:
            code, said = server.docmd(_base64(password))
    else:
        raise CouldNotRun(
            "the server offers no way to log in with letters beyond ASCII",
            "choose a user and password of ASCII letters at the mail server",
        )
    if code != LOGGED_IN:
        raise smtplib.SMTPAuthenticationError(code, said)


def _base64(text: str) -> str:
    return base64.b64encode(text.encode()).decode("ascii")


def hand_over(server: smtplib.SMTP, smtp: Smtp, recipient: str, message: bytes, before_end: Callable[[], None]) -> None:
    """Hands over one letter; returns only when the server said that it took it.

    raises LetterRefused where this letter alone is refused, Unanswered where no answer was heard, else what broke
    """
    _wait_at_most(server, smtp.timeout_seconds)
    server.ehlo_or_helo_if_needed()
    sender, to = wire_form(smtp.sender_address), wire_form(recipient)
    options = _options(server, sender, to)
    steps: tuple[tuple[Callable[[], int], str], ...] = (
        (lambda: server.mail(sender, options)[0], "sender"),
        (lambda: server.rcpt(to)[0], "recipient"),
        (lambda: server.docmd("DATA")[0], "letter"),
    )
    for step, what in steps:  # each is sent once the one before was granted: after a refusal some servers still say 354
        code = step()
        if not (code == GO_ON if what == "letter" else 200 <= code < 300):
            server.rset()
            refused = 400 <= code < 600
            raise LetterRefused(f"the server refused the {what} ({code})" if refused else NOTHING_READABLE)
    server.send(_quoted(message))
    before_end()
    _wait_at_most(server, smtp.taken_timeout_seconds)
    try:
        server.send(b".\r\n")
        code, _ = server.getreply()
    except (smtplib.SMTPException, OSError) as problem:
        raise Unanswered(_how_silent(problem)) from problem
    if not 200 <= code < 600:
        raise Unanswered(NOTHING_READABLE)
    if code >= 300:
        raise LetterRefused(f"the server answered {code}")


def _options(server: smtplib.SMTP, *addresses: str) -> list[str]:
    """SMTPUTF8 where a mailbox needs it. Raises LetterRefused where the server does not offer it."""
    if all(address.isascii() for address in addresses):
        return []
    if not server.has_extn("smtputf8"):
        raise LetterRefused("the server takes no addresses with letters beyond ASCII before the @")
    server.command_encoding = "utf-8"
    return ["SMTPUTF8", "BODY=8BITMIME"]


def _quoted(message: bytes) -> bytes:
    """The letter as it goes over the wire, without the dot that ends it (RFC 5321, section 4.5.2)."""
    lines = message.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    if lines[-1] == b"":
        lines.pop()
    return b"".join((b"." + line if line.startswith(b".") else line) + b"\r\n" for line in lines)


def _wait_at_most(server: smtplib.SMTP, seconds: float) -> None:
    if server.sock is not None:
        server.sock.settimeout(seconds)


def _how_silent(problem: Exception) -> str:
    """Broken off or silent: the library calls both disconnected, and keeps the time out as the reason."""
    timed_out = isinstance(problem, TimeoutError) or isinstance(problem.__context__, TimeoutError)
    return "the server did not answer in time" if timed_out else "the server broke off"
