"""Every way in which a mail server misbehaves, against the letters of three families: what must hold of each.

A server that misbehaves for one letter costs no other letter anything; what it took is sent at most `most_unanswered`
times, always with the same id; and once it behaves again, every letter that it never had whole arrives.
"""

import asyncio
import socket
import threading
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from email import message_from_bytes
from email.policy import default

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP
from support.nightly_home import START, child, settled

from gramrise.nightly.health import check_health
from gramrise.nightly.mail.delivery import deliver
from gramrise.store import Letter, Store
from gramrise.store.outbox import GIVEN_UP, SENT, WAITING

FAMILIES = ("mia", "tom", "zoe")
WEEK = date(2026, 3, 1)
LOOKS, PAUSE = 22, timedelta(hours=6)  # longer than a refused letter is tried
SILENCE_SECONDS = 0.25


@dataclass(frozen=True)
class Kind:
    """A misbehaviour. `at` is the step; `alone`: only the letters of one family meet it.

    may_have_taken   the server has the whole letter when it fails
    said             what the family is told, a part of it
    """

    name: str
    alone: bool
    may_have_taken: bool
    said: str


KINDS = (
    Kind("refuses the sender, 553", False, False, "refused the sender (553)"),
    Kind("refuses one recipient, 550", True, False, "refused the recipient (550)"),
    Kind("one mailbox full today, 452", True, False, "refused the recipient (452)"),
    Kind("refuses to take data, 554", False, False, "refused the letter (554)"),
    Kind("refuses the letter, 552", True, False, "answered 552"),
    Kind("later, 451", True, False, "answered 451"),
    Kind("closes with 421 at the sender", False, False, ""),
    Kind("drops the line at the sender", False, False, "broke off"),
    Kind("drops the line at the recipient", True, False, "broke off"),
    Kind("silent at the recipient", True, False, "did not answer in time"),
    Kind("takes the letter, drops the line", True, True, "broke off"),
    Kind("takes the letter, never answers", True, True, "did not answer in time"),
    Kind("takes the letter, answers nonsense", True, True, "nothing that can be read"),
    Kind("answers late, within ten minutes", False, False, ""),
    Kind("offers no STARTTLS", False, False, "does not offer the encryption"),
    Kind("closes at once", False, False, ""),
    Kind("greets with 554", False, False, "554"),
    Kind("never greets", False, False, "did not answer in time"),
    Kind("greets without end", False, False, "did not answer in time"),
    Kind("grants data with 250", False, False, "answered nothing that can be read"),
    Kind("speaks no SMTP", False, False, ""),
)
HARMLESS = {"answers late, within ten minutes"}


class Post:
    """A server's mailbox; `kind` is its misbehaviour, None: it behaves."""

    def __init__(self, kind):
        self.kind, self.taken = kind, []

    def _is(self, name, address=""):
        return self.kind is not None and self.kind.name == name and (not self.kind.alone or "mia" in address)

    async def handle_MAIL(self, server, _session, envelope, address, _options):  # noqa: N802 - the library's name
        if self._is("refuses the sender, 553"):
            return "553 not this sender"
        if self._is("drops the line at the sender"):
            server.transport.abort()
        if self._is("closes with 421 at the sender"):
            server.transport.write(b"421 closing\r\n")
            server.transport.close()
            return "421 closing"
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(self, server, _session, envelope, address, _options):  # noqa: N802 - the library's name
        if self._is("refuses one recipient, 550", address):
            return "550 no such mailbox"
        if self._is("one mailbox full today, 452", address):
            return "452 full"
        if self._is("drops the line at the recipient", address):
            server.transport.abort()
        if self._is("silent at the recipient", address):
            await asyncio.sleep(30)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, _session, envelope):  # noqa: N802 - the library's name
        to = envelope.rcpt_tos[0]
        for name, answer in (("refuses the letter, 552", "552 too large"), ("later, 451", "451 later")):
            if self._is(name, to):
                return answer
        self.taken.append(envelope.content)
        if self._is("takes the letter, drops the line", to):
            server.transport.abort()
        if self._is("takes the letter, never answers", to):
            await asyncio.sleep(30)
        if self._is("takes the letter, answers nonsense", to):
            return "well, thank you\r\n  and good night"
        if self._is("answers late, within ten minutes"):
            await asyncio.sleep(2 * SILENCE_SECONDS)
        return "250 OK"

    def copies(self):
        """How many copies of each letter arrived, by message id."""
        return Counter(message_from_bytes(content, policy=default)["Message-ID"] for content in self.taken)


class _Smtp(SMTP):
    async def smtp_DATA(self, arg):  # noqa: N802 - the library's name
        if self.event_handler._is("refuses to take data, 554"):
            await self.push("554 no data here")
            return
        if self.event_handler._is("grants data with 250"):
            await self.push("250 go on")
            return
        await super().smtp_DATA(arg)


class _Controller(Controller):
    def factory(self):
        return _Smtp(self.handler, hostname="localhost", enable_SMTPUTF8=self.utf8)


RAW = {
    "closes at once": None,
    "greets with 554": b"554 not today\r\n",
    "never greets": b"",
    "greets without end": b"220-x\r\n" * 2_000,
    "speaks no SMTP": b"HTTP/1.1 400 Bad Request\r\n\r\n",
}


@contextmanager
def server(kind, utf8=True):
    """A running server of one kind; gives its mailbox and its port."""
    post = Post(kind)
    if kind is not None and kind.name in RAW:
        with _raw(RAW[kind.name]) as port:
            yield post, port
        return
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = _Controller(post, hostname="127.0.0.1", port=port)
    controller.utf8 = utf8
    controller.start()
    try:
        yield post, port
    finally:
        controller.stop()


@contextmanager
def _raw(greeting):
    """A listener that says one thing, or nothing, and no more."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(0.05)
        over, open_lines = threading.Event(), []

        def listen():
            while not over.is_set():
                try:
                    line, _ = listener.accept()
                except TimeoutError:
                    continue
                if greeting is None:
                    line.close()
                    continue
                line.sendall(greeting)
                open_lines.append(line)

        listening = threading.Thread(target=listen)
        listening.start()
        try:
            yield listener.getsockname()[1]
        finally:
            over.set()
            listening.join()
            for line in open_lines:
                line.close()


def _settings(home, port, kind):
    security = "starttls" if kind is not None and kind.name == "offers no STARTTLS" else "none"
    recipients = "".join(f'{who} = [{{ address = "{who}@example.org" }}]\n' for who in ("zoe",))
    smtp = (
        f'\n[nightly.smtp]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "{security}"\nsender = "g@example.org"\n'
        f"timeout_seconds = {SILENCE_SECONDS}\ntaken_timeout_seconds = {4 * SILENCE_SECONDS}\n"
    )
    (home / "gramrise.toml").unlink(missing_ok=True)
    settled(home)
    text = (home / "gramrise.toml").read_text()
    (home / "gramrise.toml").write_text(text + recipients + smtp)
    from gramrise.nightly.settings import nightly_settings

    return nightly_settings(home)


def letter(who):
    message_id = f"<{who}@example.org>"
    content = f"Message-ID: {message_id}\r\nTo: {who}@example.org\r\nSubject: week\r\n\r\n.hidden\r\nHello\r\n"
    return Letter(message_id, who, "weekly", WEEK, f"{who}@example.org", "parent", content.encode())


def attack(home, kind):
    """Days of a misbehaving server, then a good one. Gives what broke the promises, [] where all held."""
    home.mkdir(mode=0o700, parents=True, exist_ok=True)
    with Store.open(home) as store:
        for who in FAMILIES:
            store.save_person(child(who))
        store.outbox.put([letter(who) for who in FAMILIES], START)
        with server(kind) as (post, port):
            settings, said, days = _settings(home, port, kind), set(), LOOKS
            for look in range(days):
                if (told := deliver(store, home, START + look * PAUSE, settings)).trouble:
                    said.add(told.trouble)
                if not store.outbox.all(WAITING):
                    break
            bad = _broken_promises(store, post, kind, settings, said)
            bad += _untold(home, store, settings)
        return bad + _after(home, store, post, kind)


def _broken_promises(store, post, kind, settings, said):
    bad = []
    copies = post.copies()
    if kind.name not in HARMLESS and not said:
        bad.append("nobody was told")
    if kind.said and not any(kind.said in each for each in said):
        bad.append(f"told as {sorted(said)}, not as '{kind.said}'")
    if any(who in each for each in said for who in FAMILIES):
        bad.append(f"a name was told: {said}")
    most = settings.most_unanswered if kind.may_have_taken else 1
    if any(n > most for n in copies.values()):
        bad.append(f"copies: {dict(copies)}")
    if kind.alone and any(copies[f"<{who}@example.org>"] != 1 for who in FAMILIES[1:]):
        bad.append(f"others did not get theirs once: {dict(copies)}")
    if kind.may_have_taken and store.outbox.all(WAITING):
        bad.append("copies without end")
    sent = {each.message_id for each in store.outbox.all(SENT)}
    if not sent <= set(copies):
        bad.append("called sent without having been taken")
    return bad


def _untold(home, store, settings):
    """Letters given up must be named by `check`."""
    given_up = store.outbox.all(GIVEN_UP)
    codes = [each.code for each in check_health(home, START + LOOKS * PAUSE, settings, whole=False).findings]
    named = codes.count("mail_unanswered") + codes.count("mail_given_up")
    return [] if named == len(given_up) else [f"{len(given_up)} given up, {named} named"]


def _after(home, store, post, kind):
    """A good server in the place of the bad one gets all that still waits, once."""
    waiting = {each.message_id for each in store.outbox.all(WAITING)}
    before = post.copies()
    with server(None) as (good, port):
        settings = _settings(home, port, None)
        deliver(store, home, START + 2 * LOOKS * PAUSE, settings)
        if set(good.copies()) != waiting or any(n != 1 for n in good.copies().values()):
            return [f"the good server got {dict(good.copies())}, waiting were {waiting}"]
    lost = {each.message_id for each in store.outbox.all() if each.state not in {SENT, GIVEN_UP}}
    return [f"left over: {lost}"] if lost or (kind.name in HARMLESS and len(before) != len(FAMILIES)) else []
