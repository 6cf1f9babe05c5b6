"""The page served until told to stop. No request is logged: an address holds a link, a form what was given."""

import ssl
from pathlib import Path
from typing import Any

import uvicorn

from gramrise.store import Store
from gramrise.web.app import page_app
from gramrise.web.settings import web_settings


def serve_page(
    home: Path, host: str, port: int, certificate: Path | None, key: Path | None, behind_proxy: bool
) -> None:
    """Serves the page of a home. Raises what the store and the settings raise, before it listens.

    certificate, key   PEM files; both given: it speaks TLS only
    behind_proxy       another server speaks TLS for it, and says so in X-Forwarded-Proto
    """
    rules = web_settings(home)
    tls: dict[str, Any] = {}
    if certificate is not None and key is not None:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
        tls = {"ssl_certfile": str(certificate), "ssl_keyfile": str(key)}
    with Store.open(home, create=False) as store:
        config = uvicorn.Config(
            page_app(home, store),
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
        uvicorn.Server(config).run()
