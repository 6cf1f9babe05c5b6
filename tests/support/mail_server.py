"""A mail server of the tests' own: TLS, login, and the ways servers fail."""

import asyncio
import socket
import ssl
from contextlib import contextmanager
from email import message_from_bytes
from email.policy import default

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult

USER, PASSWORD = "gramrise", "correct horse"


class Post:
    """What the server was given; `behave` decides what it answers.

    ok | refuse_recipient | later (451) | drop_after_data (takes the mail, breaks off before its answer) | hang
    | hang_on_one (at RCPT of mia's address)
    """

    def __init__(self):
        self.behave, self.taken = "ok", []

    @property
    def mails(self):
        return [message_from_bytes(content, policy=default) for content in self.taken]

    @property
    def ids(self):
        return [mail["Message-ID"] for mail in self.mails]

    async def handle_RCPT(self, _server, _session, envelope, address, _options):  # noqa: N802 - the library's name
        if self.behave == "refuse_recipient" and "mia" in address:
            return "550 no such mailbox"
        if self.behave == "hang_on_one" and "mia" in address:
            await asyncio.sleep(3600)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, _session, envelope):  # noqa: N802 - the library's name
        if self.behave == "later":
            return "451 try again later"
        if self.behave == "hang":
            await asyncio.sleep(3600)
        self.taken.append(envelope.content)
        if self.behave == "drop_after_data":
            server.transport.abort()
            return "250 never heard"
        return "250 OK"


def _login(server, session, envelope, mechanism, data):
    right = (data.login, data.password) == (USER.encode(), PASSWORD.encode())
    return AuthResult(success=right, handled=right)


class _Controller(Controller):
    def factory(self):
        return SMTP(
            self.handler,
            hostname="localhost",
            require_starttls=True,
            tls_context=self.tls,
            auth_required=True,
            authenticator=_login,
            auth_require_tls=True,
        )


@contextmanager
def mail_server(folder):
    """A running server; gives (what it took, the lines of its settings under [nightly.smtp])."""
    authority = trustme.CA()
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert("localhost", "127.0.0.1").configure_cert(context)
    trusted = folder / "authority.pem"
    authority.cert_pem.write_to_path(str(trusted))
    post = Post()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = _Controller(post, hostname="127.0.0.1", port=port)
    controller.tls = context
    controller.start()
    settings = f"""
[nightly.smtp]
host = "127.0.0.1"
port = {port}
user = "{USER}"
sender = "gramrise@example.org"
trust_file = "{trusted}"
timeout_seconds = 2
taken_timeout_seconds = 2
"""
    try:
        yield post, settings
    finally:
        controller.stop()
