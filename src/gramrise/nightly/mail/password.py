"""The mail server's password: from the environment, or from a file only its owner can read. Never from the settings."""

import os
import stat
from pathlib import Path
from typing import Final

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly.settings import Smtp

VARIABLE: Final = "GRAMRISE_SMTP_PASSWORD"
ANYBODY_ELSE: Final = stat.S_IRWXG | stat.S_IRWXO


def smtp_password(smtp: Smtp) -> str:
    """The password. Raises CouldNotRun when there is none, or when others can read its file (code secret_open)."""
    from_environment = os.environ.get(VARIABLE)
    if from_environment:
        return from_environment
    if not smtp.password_file:
        raise CouldNotRun(
            f"no password for the mail user '{smtp.user}'",
            f"set {VARIABLE}, or name a file under smtp.password_file",
            "secret_missing",
        )
    path = Path(smtp.password_file).expanduser()
    try:
        found = path.stat()
        if found.st_mode & ANYBODY_ELSE or found.st_uid != os.getuid():
            raise CouldNotRun(
                f"others than its owner can reach the password file {path.name}",
                f"chmod 600 {path}, and let the user who runs gramrise own it",
                "secret_open",
            )
        return path.read_text(encoding="utf-8").strip()
    except OSError as problem:
        raise CouldNotRun(
            f"the password file {path.name} cannot be read: {problem.strerror}",
            "name a file that is there under smtp.password_file",
            "secret_missing",
        ) from problem
