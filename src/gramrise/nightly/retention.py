"""What the settings say is to be kept for so many days and no longer: `keep_..._days` under [nightly]; 0 keeps all.

Readings, logs and findings are none of it: they stay until `gramrise forget`. Nor is the audit trail.
"""

from datetime import datetime, timedelta
from pathlib import Path

from gramrise.nightly.inbox import DONE, INBOX
from gramrise.nightly.settings import NightlySettings
from gramrise.store import Store


def let_go(store: Store, home: Path, now_utc: datetime, settings: NightlySettings) -> int:
    """Deletes what has been kept for its time. How many files, letters and runs."""
    gone = 0
    if settings.keep_files_days:
        gone += _files(home, now_utc - timedelta(days=settings.keep_files_days))
    if settings.keep_mail_days:
        gone += store.outbox.empty_before(now_utc - timedelta(days=settings.keep_mail_days))
    if settings.keep_runs_days:
        gone += store.runs.drop_before(now_utc - timedelta(days=settings.keep_runs_days))
    return gone


def _files(home: Path, before_utc: datetime) -> int:
    """Files in everybody's done/ that were last written before; their rows are in the database."""
    gone = 0
    for file in (home / INBOX).glob(f"*/{DONE}/*"):
        if any(each.is_symlink() for each in (file, file.parent, file.parent.parent)):
            continue  # what a link leads to is not ours
        if file.is_file() and file.stat().st_mtime < before_utc.timestamp():
            file.unlink(missing_ok=True)
            gone += 1
    return gone
