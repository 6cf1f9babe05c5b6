"""Tables of container counts, and counts that stand in notes, taken in."""

from collections.abc import Callable
from dataclasses import replace as replace_in
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from gramrise.domain.batch import Batch, ImportSummary, Quarantined
from gramrise.domain.counts import ContainerCount, NotedCount
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import Trouble, WrongUse
from gramrise.intake import FileRefused
from gramrise.nightly.contradictions import refuse_others_file
from gramrise.store import COUNTS, FileTransaction, Store
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
    store: Store,
    person: Person,
    file: Path,
    now_utc: datetime,
    *,
    dry_run: bool,
    replace: bool = False,
    before_commit: Callable[[], None] = lambda: None,
) -> tuple[ImportSummary, list[Quarantined]]:
    """Takes in a table of counts in one transaction. The same file twice changes nothing; a bad row is kept with its
    trouble.

    replace        the file is right, even where it was taken in for another person
    before_commit  called when all is put away; to take nothing in, raise
    """
    name = printable(file.name)
    if file.stat().st_size > MOST_BYTES:
        raise FileRefused(
            "counts_too_long", name, f"it holds over {MOST_BYTES // 1000} kB of counts", "bring some months at a time"
        )
    content = file.read_bytes()
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        text = content.decode("cp1252", "replace")
    read = read_count_table(text, name, person, now_utc)
    held = [Quarantined(trouble, text) for trouble, text in read.troubles]
    with store.taking_in(now_utc, dry_run=dry_run, retry=True) as put:
        added = 0
        for count in read.counts:
            try:
                added += put.count(count)
            except WrongUse as problem:
                trouble = Trouble("count_refused", name, None, count.container, "", problem.what, problem.mend)
                held.append(Quarantined(trouble, f"{count.container} {count.to_utc.isoformat()}"))
        entry = _ledger(person, name, content, len(read.counts) + len(read.troubles), held)
        summary = put.batch(entry)
        if read.counts and not replace:
            refuse_others_file(put.same_file_of_others([entry.content_hash]), name, person)
        before_commit()
    return replace_in(summary, added=added, already_known=len(read.counts) - added, known_file=False), held


def _ledger(person: Person, name: str, content: bytes, rows: int, held: list[Quarantined]) -> Batch:
    """The table's entry in the ledger: it holds no frame."""
    return Batch(
        person_id=person.person_id,
        file=name,
        content_hash=sha256(content).hexdigest(),
        layout=COUNTS,
        rows_offered=rows,
        quarantine=tuple(held),
    )


def note_counts(
    put: FileTransaction, known: list[ContainerCount], file: str, noted: list[NotedCount]
) -> tuple[list[str], list[Quarantined]]:
    """Puts away what a note says is left in containers since they were last counted; sentences, and what was refused.

    known  counts of the person as they stand; the same note twice changes nothing
    """
    told, held, counts = [], [], list(known)
    for each in sorted(noted, key=lambda one: one.counted_at_utc):
        mine = [one for one in counts if one.container == each.container]
        before = [one for one in mine if one.to_utc < each.counted_at_utc]
        if any(one.to_utc == each.counted_at_utc for one in mine):
            continue
        try:
            if not before:
                raise WrongUse(
                    f"'{each.container}' was first counted later than that", "gramrise count says what was put in"
                )
            made = each.after(before[-1])
            put.count(made)
        except WrongUse as problem:
            trouble = Trouble("count_refused", file, None, each.container, "", problem.what, problem.mend)
            held.append(Quarantined(trouble, f"{each.container}: {each.pieces_left} left"))
            continue
        counts.append(made)
        told.append(f"{each.container}: {made.pieces_gone} of {made.pieces_filled} pieces of {made.source} gone.")
    return told, held
