"""Links, sessions and form tokens: made from the system's randomness, kept by the store as hashes only."""

import hashlib
import hmac
import secrets
from typing import Final

# 256 bits: nobody guesses them, so that no salt and no slow hash is needed.
_BYTES: Final = 32


def new_secret() -> str:
    """What only one device knows: letters that a link and a cookie can carry."""
    return secrets.token_urlsafe(_BYTES)


def hashed(secret: str) -> str:
    """What the store keeps of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def form_token(session: str) -> str:
    """The token that every form of a session carries: another site's form cannot know it."""
    return hmac.new(session.encode("utf-8", "replace"), b"form", hashlib.sha256).hexdigest()


def is_form_token(session: str, token: str) -> bool:
    return hmac.compare_digest(form_token(session).encode(), token.encode("utf-8", "replace"))
