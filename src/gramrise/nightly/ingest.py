"""One file into the store: read, asked about, put away whole or not at all. Inbox and command share it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from dataclasses import replace as replace_in
from datetime import datetime
from functools import cache
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gramrise.config.settings import load
from gramrise.domain.batch import Batch, ImportSummary, Quarantined
from gramrise.domain.counts import NotedCount
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import GramriseError, place_of
from gramrise.nightly.contradictions import (
    refuse_ahead,
    refuse_between,
    refuse_continued,
    refuse_contradiction,
    refuse_gone,
    refuse_other_owner,
    refuse_others_file,
    refuse_renumbered,
    refuse_several,
    refuse_shifted,
    replaced_question,
)
from gramrise.nightly.count_files import holds_counts, note_counts, take_in_counts
from gramrise.store import FileTransaction, Store

NOTE: Final = "text-note"

if TYPE_CHECKING:
    from gramrise.connectors.layout import Layout
    from gramrise.intake import HeaderWords, IntakeSettings


# So many troubles of a file that waits are told beside it; our choice: a note of one night.
TROUBLES_TOLD = 12


@dataclass
class FileTaken:
    """What one file brought. `quarantine` is empty for a file known by its bytes."""

    summaries: list[ImportSummary] = field(default_factory=list)
    quarantine: list[Quarantined] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)  # sentences about the file, and what was passed over by name

    @property
    def questions_n(self) -> int:
        """Questions this file raised for the first time."""
        return sum(summary.questions for summary in self.summaries)

    @property
    def landed(self) -> bool:
        """Whether anything of it is in the store now, or was before: not all of it was set aside."""
        kept = (each.added + each.corrected + each.already_known + each.conflicts for each in self.summaries)
        return any(kept) or any(each.known_file for each in self.summaries)

    @property
    def rows(self) -> int:
        return sum(summary.added + summary.corrected for summary in self.summaries)


def _everybody(store: Store) -> tuple[Person, ...]:
    return tuple(store.persons())


@dataclass(frozen=True, slots=True)
class Means:
    """What files of a home are read with."""

    settings: "IntakeSettings"
    layouts: "tuple[Layout, ...]"
    words: "HeaderWords"
    household: Callable[[Store], tuple[Person, ...]] = _everybody


def means_of(home: Path, household: Callable[[Store], tuple[Person, ...]] = _everybody) -> Callable[[], Means]:
    """The means of a home, read when first asked for and then kept. Raises WrongUse when asked, not before.

    household  who is asked for everybody, for each file
    """

    @cache
    def means() -> Means:
        from gramrise.intake import IntakeSettings, load_layouts, load_words

        return Means(load("intake", IntakeSettings, home), load_layouts(home), load_words(home), household)

    return means


def take_in_file(
    store: Store,
    home: Path,
    person: Person,
    file: Path,
    now_utc: datetime,
    *,
    layout_name: str | None = None,
    dry_run: bool = False,
    retry: bool = False,
    replace: bool = False,
    tell: Callable[[int], None] = lambda _rows: None,
    means: "Callable[[], Means] | None" = None,
    whole_refusal: bool = False,
    before_commit: Callable[[], None] = lambda: None,
) -> FileTaken:
    """Takes in one file in one transaction, in blocks, so that its size does not matter.

    replace the file is right, even where it contradicts most readings known for its times; else it waits then
    tell    called with the number of rows read so far, for long files
    means   what files are read with, where many are; None: asked of the home
    whole_refusal  a file of which every row is set aside waits as a whole: nobody is there who reads its troubles
    before_commit  called when all is put away; to take nothing in, raise
    raises  a GramriseError naming the mend when the file waits or is refused; CouldNotRun when the store cannot write
    """
    from gramrise.intake import read_batches, unreadable

    reading = (means or means_of(home))()
    try:
        if layout_name is None and holds_counts(file):
            summary, held = take_in_counts(
                store, person, file, now_utc, dry_run=dry_run, replace=replace, before_commit=before_commit
            )
            return FileTaken([summary], held)
        known_counts = store.supplies.counts(person.person_id)
        batches = read_batches(
            file,
            person,
            now_utc=now_utc,
            settings=reading.settings,
            layouts=reading.layouts,
            layout_name=layout_name,
            words=reading.words,
            household=reading.household(store),
            containers=tuple(dict.fromkeys(each.container for each in known_counts)),
        )
        first = next(batches)  # read before the database is locked: a file that is held whole may take its time
        taken = FileTaken()
        noted: list[NotedCount] = []
        rows_read = 0
        whole: dict[str, str] = {}  # hashes of new batches that are one person's throughout, and whose they are
        with store.taking_in(now_utc, dry_run=dry_run, retry=retry, whose=person.person_id) as put:
            for batch in _counted(chain([first], batches), tell):
                summary = put.batch(batch)
                if not retry:
                    _check_accounted(batch, summary)
                taken.summaries.append(summary)
                rows_read += batch.rows_offered
                noted += batch.counts
                if not summary.known_file:
                    whole |= {batch.content_hash: batch.person_id} if _of_one_person(batch) else {}
                    taken.quarantine += batch.quarantine
                    taken.remarks += [remark for remark in batch.remarks if remark not in taken.remarks]
            if whole_refusal:
                _refuse_nothing_read(taken, printable(file.name))
            if not replace:
                refuse_ahead(taken.quarantine, rows_read, printable(file.name), person)
                if taken.summaries[0].layout == NOTE and put.new_ids:
                    refuse_continued(put.lines_of_another_day(), printable(file.name), person)
                refuse_renumbered(put.overlap, printable(file.name), person)
                _refuse_amounts(put, printable(file.name), person)
                refuse_other_owner(put.overlap, printable(file.name), person)
                refuse_several(set(whole.values()), printable(file.name), person)
                refuse_others_file(put.same_file_of_others(list(whole)) if whole else [], printable(file.name), person)
                refuse_contradiction(put.overlap, printable(file.name), person, reading.settings)
                refuse_between(put.overlap, printable(file.name), person, reading.settings)
            elif (
                doubt := replaced_question(put.overlap, printable(file.name), person, reading.settings)
            ) is not None and put.ask(doubt):
                taken.summaries[-1] = replace_in(taken.summaries[-1], questions=taken.summaries[-1].questions + 1)
            if noted:
                told, held = note_counts(put, known_counts, printable(file.name), noted)
                taken.remarks += told
                taken.quarantine += held
            taken.remarks += _told_taken_out(put.overlap.taken_out)
            before_commit()
    except (GramriseError, OSError):
        raise
    except Exception as fault:  # whatever a file does to us, it alone is refused
        raise unreadable(printable(file.name), place_of(fault)) from fault
    return taken


def _told_taken_out(rows: int) -> list[str]:
    """A sentence about the rows that went with older versions of records, if any did."""
    counted = f"{rows} row{'' if rows == 1 else 's'}"
    return [f"Taken out, as newer versions of their records do not state them: {counted}."] if rows else []


def _of_one_person(batch: Batch) -> bool:
    """Whether no row was left for somebody else: one file may hold the rows of two children."""
    others = any(held.trouble.code == "another_person" for held in batch.quarantine)
    return not others and not batch.rows_passed_over


def _refuse_amounts(put: FileTransaction, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where amounts of it would go on counting, or count twice."""
    refuse_gone(put.amounts_gone(), file, person)
    refuse_shifted(put.same_amounts_shifted(), file, person)


def _refuse_nothing_read(taken: FileTaken, file: str) -> None:
    """Raises FileWaits, within the file's transaction, where all that it holds was set aside."""
    from gramrise.intake import FileWaits

    rows = sum(each.added + each.corrected + each.already_known + each.conflicts for each in taken.summaries)
    if rows or taken.questions_n or not taken.quarantine:
        return
    told = " ".join(held.trouble.sentence for held in taken.quarantine[:TROUBLES_TOLD])
    count = len(taken.quarantine)
    what = f"nothing of it could be read ({count} line{'' if count == 1 else 's'} set aside). {told}"
    raise FileWaits("nothing_read", file, what, "mend these lines, or state the source they name")


def _check_accounted(batch: Batch, summary: ImportSummary) -> None:
    """Raises FileRefused, within the transaction, where the store tells of fewer or more rows than it was given."""
    from gramrise.intake import FileRefused

    if summary.known_file:
        return
    frames = (batch.readings, batch.fingers, batch.doses, batch.events, batch.weights)
    offered = sum(frame.height for frame in frames)
    told = summary.added + summary.corrected + summary.already_known + summary.conflicts
    if told != offered or summary.quarantined != len(batch.quarantine):
        what = f"of {offered} values {told} are new, known or corrected"
        raise FileRefused("rows_unaccounted", batch.file, what, "report this sentence; nothing of it was taken in")


def _counted(batches: Iterator[Batch], tell: Callable[[int], None]) -> Iterator[Batch]:
    rows = 0
    for batch in batches:
        yield batch
        rows += batch.rows_offered
        tell(rows)


def mostly_corrects(summary: ImportSummary, least: int) -> bool:
    """Whether most of what a file shares with the store stands there otherwise, beyond what a family mends by hand."""
    return summary.corrected >= least and summary.corrected > summary.already_known


def joined(summaries: list[ImportSummary]) -> list[ImportSummary]:
    """Blocks of one table told as one: counts added up over neighbours of the same file and layout."""
    told: list[ImportSummary] = []
    for summary in summaries:
        if told and (told[-1].file, told[-1].layout) == (summary.file, summary.layout):
            told[-1] = told[-1] + summary
        else:
            told.append(summary)
    return told
