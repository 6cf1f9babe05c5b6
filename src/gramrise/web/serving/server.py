"""The page served until told to stop. No request is logged: an address holds a link, a form what was given."""

import signal
import ssl
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import uvicorn

from gramrise.nightly import schedule_beside
from gramrise.store import Store
from gramrise.web.app import page_app
from gramrise.web.serving.patient import patient_for
from gramrise.web.settings import web_settings


def serve_page(
    home: Path,
    host: str,
    port: int,
    certificate: Path | None,
    key: Path | None,
    behind_proxy: bool,
    scheduled: bool = False,
) -> None:
    """Serves the page of a home. Raises what the store and the settings raise, before it listens.

    certificate, key   PEM files; both given: it speaks TLS only
    behind_proxy       another server speaks TLS for it, and says so in X-Forwarded-Proto
    scheduled          nights, weeks and letters are done beside it, in the same process
    """
    rules = web_settings(home)
    tls: dict[str, Any] = {}
    if certificate is not None and key is not None:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
        tls = {"ssl_certfile": str(certificate), "ssl_keyfile": str(key)}
    beside = schedule_beside(home) if scheduled else nullcontext()
    with Store.open(home, create=False) as store, beside:
        config = uvicorn.Config(
            page_app(home, store),
            http=patient_for(rules.silent_seconds),
            host=host,
            port=port,
            access_log=False,
            log_level="error",
            server_header=False,
            proxy_headers=behind_proxy,
            limit_concurrency=rules.most_connections,
            timeout_keep_alive=int(rules.silent_seconds),
            timeout_graceful_shutdown=int(rules.silent_seconds),
            **tls,
        )
        server = uvicorn.Server(config)

        def stop(*_: object) -> None:
            server.should_exit = True

        # The server passes a signal on once it has ended: by default that would kill us before the night beside ends.
        for each in (signal.SIGTERM, signal.SIGINT):
            signal.signal(each, stop)
        server.run()
