"""Tables of container counts, taken in."""

from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from gramrise.domain.batch import Batch, ImportSummary, Quarantined
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import Trouble, WrongUse
from gramrise.intake import FileRefused
from gramrise.store import Store
from gramrise.supplies import is_count_table, read_count_table

# A table of counts is short; its header is sought in no more than this.
HEADER_BYTES = 200
# Our choice: some hundred counts. A longer file is none that a family counted.
MOST_BYTES = 20_000


def holds_counts(file: Path) -> bool:
    """Whether a file is a table of container counts, by its header."""
    with file.open("rb") as opened:
        first = opened.read(HEADER_BYTES).split(b"\n")[0]
    return is_count_table(first.decode("utf-8", "replace").strip())


def take_in_counts(
    store: Store, person: Person, file: Path, now_utc: datetime, *, dry_run: bool
) -> tuple[ImportSummary, list[Quarantined]]:
    """Takes in a table of counts. The same file twice changes nothing; a bad row is kept with its trouble."""
    name = printable(file.name)
    if file.stat().st_size > MOST_BYTES:
        raise FileRefused(
            "counts_too_long", name, f"it holds over {MOST_BYTES >> 20} MiB of counts", "bring some months at a time"
        )
    content = file.read_bytes()
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        text = content.decode("cp1252", "replace")
    read = read_count_table(text, name, person, now_utc)
    held = [Quarantined(trouble, text) for trouble, text in read.troubles]
    added = 0
    for count in () if dry_run else read.counts:
        try:
            added += store.supplies.keep_count(count, "file")
        except WrongUse as problem:
            trouble = Trouble("count_refused", name, None, count.container, "", problem.what, problem.mend)
            held.append(Quarantined(trouble, f"{count.container} {count.to_utc.isoformat()}"))
    batch = Batch(
        person_id=person.person_id,
        file=name,
        content_hash=sha256(content).hexdigest(),
        layout="counts",
        rows_offered=len(read.counts) + len(read.troubles),
        quarantine=tuple(held),
    )
    summary = store.take_in(batch, now_utc, dry_run=dry_run, retry=True)
    new = len(read.counts) if dry_run else added
    return replace(summary, added=new, already_known=len(read.counts) - new, known_file=False), held
