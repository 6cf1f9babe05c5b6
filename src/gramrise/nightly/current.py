"""A person's findings for whoever reads them: as stored where nothing changed since, else computed now."""

from collections.abc import Collection
from datetime import UTC, datetime
from pathlib import Path

from gramrise.config.settings import SETTINGS_FILE
from gramrise.domain.findings import Findings
from gramrise.store import Store


def current_findings(
    store: Store, person_id: str, now_utc: datetime, home: Path | None = None, only: Collection[str] | None = None
) -> Findings:
    """The findings that rest on today's inputs, facts, settings and model.

    Commands that log something only store it: every reader of findings comes through here.
    home    whose gramrise.toml sets detect and estimate; the shipped settings without it
    only    names of the frames that are read; None: all
    raises  WrongUse for an unknown id; CouldNotRun when the inputs keep changing meanwhile
    """
    as_of = store.current_as_of(person_id)
    if as_of is not None and not as_of < settings_changed_utc(home) <= now_utc:
        found = store.findings(person_id, only)
        if found is not None:
            return found
    from gramrise.nightly.one_person import run_person  # here: a look-up that computes nothing must not load it

    return run_person(store, person_id, now_utc, home)


def settings_changed_utc(home: Path | None) -> datetime:
    """When the home's gramrise.toml was last written; long ago where there is none."""
    own_file = None if home is None else home / SETTINGS_FILE
    changed = own_file.stat().st_mtime if own_file is not None and own_file.is_file() else 0
    return datetime.fromtimestamp(changed, UTC)
