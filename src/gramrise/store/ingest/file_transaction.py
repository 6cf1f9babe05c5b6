"""The open transaction in which all batches of one file are put away."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time
from typing import Any, Final, NamedTuple

from sqlalchemy import Connection, Select, select

from gramrise.domain.batch import Batch, ImportSummary
from gramrise.domain.counts import ContainerCount
from gramrise.domain.questions import Question, dose_key
from gramrise.store import changes
from gramrise.store.ingest.overlap import Overlap
from gramrise.store.ingest.shifted_amounts import Shifted, shifted
from gramrise.store.ingest.take_in import take_in
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant, stored
from gramrise.store.persons import known_person, refuse_unknown
from gramrise.store.questions import stored_questions
from gramrise.store.schema import doses, imports
from gramrise.store.supplies import put_count
from gramrise.store.supply_rows import RowChange

COUNTS: Final = "counts"  # the layout of tables of counts: what they brought stands in no frame of the ledger
_FILES_OF_BEFORE = 5  # of one name are looked at; our choice: a note of the last nights


class AmountsGone(NamedTuple):
    """(instant, source) of amounts that a file has no more, and the numbers of the changes that brought them."""

    amounts: list[tuple[datetime, str]]
    changes: list[int]


class Noted(NamedTuple):
    """What kind of change of whom a file was."""

    kind: str
    person_id: str


@dataclass(frozen=True, slots=True)
class FileTransaction:
    """The open transaction of one file. `overlap`: its readings beside those known; to doubt them, raise within it."""

    connection: Connection
    now_utc: datetime
    dry_run: bool
    retry: bool
    overlap: Overlap = field(default_factory=Overlap)
    new_ids: list[int] = field(default_factory=list)  # of the ledger's entries it made
    first: list[Batch] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    counts: list[RowChange] = field(default_factory=list)
    given: set[tuple[int, str]] = field(default_factory=set)  # minute and source of every amount of glucose it brings

    def batch(self, batch: Batch, *, apart: bool = False) -> ImportSummary:
        """Puts one batch away; `apart`: its amounts are known to be others. Raises WrongUse for an unknown person."""
        refuse_unknown(self.connection, batch.person_id)
        if not self.first:
            self.first.append(batch)
        told = batch.doses.select("taken_at_utc", "source").iter_rows()
        self.given.update((stored(at) // MICROSECONDS_IN_A_MINUTE, source) for at, source in told)
        summary = take_in(self.connection, batch, self.now_utc, self.retry, self.overlap, apart)
        if summary.import_id is not None:
            self.new_ids.append(summary.import_id)
            self.rows.append(summary.added + summary.corrected)
        return replace(summary, dry_run=self.dry_run)

    def count(self, count: ContainerCount) -> bool:
        """Puts a count of a table away. Returns whether anything changed. Raises WrongUse where it overlaps another."""
        made = put_count(self.connection, count, "file")
        if made is not None:
            self.counts.append(made)
        return made is not None

    def same_file_of_others(self, content_hashes: Sequence[str]) -> list[str]:
        """Other persons for whom a file with one of these hashes was taken in before, and rows of it landed."""
        table = imports
        landed = (table.c.added + table.c.already_known + table.c.corrected > 0) | (table.c.layout == COUNTS)
        theirs = (table.c.content_hash.in_(content_hashes), table.c.person_id != self.first[0].person_id, landed)
        before = table.c.import_id.not_in(self.new_ids)
        chosen = select(table.c.person_id).where(*theirs, before)
        found = self.connection.execute(chosen.distinct().order_by(table.c.person_id))
        return list(found.scalars())

    def lines_of_another_day(self) -> datetime | None:
        """Where a file of this name brought before the very doses that this one brings, on another day: when that was.

        A note without days that is written on in the next night holds the lines of the night before again.
        """
        first = self.first[0]
        zone = known_person(self.connection, first.person_id).zone_now()
        told = first.doses.select("taken_at_utc", "source", "amount", "amount_unit").rows()
        instants = {stored(at) for at, *_ in told}
        mine = {(at.astimezone(zone).time(), *of_what) for at, *of_what in told}
        latest = self._files_before().order_by(imports.c.import_id.desc()).limit(_FILES_OF_BEFORE)
        table = doses.c
        for import_id in self.connection.execute(latest).scalars().all():
            chosen = select(table.taken_at_utc, table.source, table.amount, table.amount_unit)
            rows = self.connection.execute(chosen.where(table.import_id == import_id)).all()
            theirs = {(instant(at).astimezone(zone).time(), *of_what) for at, *of_what in rows}
            if theirs and theirs <= mine and not instants & {row.taken_at_utc for row in rows}:
                return instant(min(row.taken_at_utc for row in rows))
        return None

    def same_amounts_shifted(self) -> Shifted | None:
        """Where its new amounts are those that other files brought, each at a time as far off: by how much, and which.

        A log that was read by another clock counts every amount twice.
        """
        if not self.new_ids:
            return None
        return shifted(self.connection, self.first[0].person_id, self.new_ids)

    def amounts_gone(self) -> AmountsGone | None:
        """What files of this name brought and this one has no more, though it brings others of theirs again.

        A log that is exported again corrects itself by minute and source: an amount whose time was mended would count
        at both times, one that was taken out would go on counting. Days before its first are of an earlier window.
        """
        if not self.new_ids or not self.given:
            return None
        first, table, before = self.first[0], doses.c, self._files_before()
        since = self._day_of_the_first()
        mine = (table.person_id == first.person_id, table.minute >= since, table.import_id.in_(before))
        chosen = select(table.taken_at_utc, table.minute, table.source, table.import_id).where(*mine)
        rows = self.connection.execute(chosen.order_by(table.taken_at_utc)).all()
        gone = [row for row in rows if (row.minute, row.source) not in self.given]
        if not gone or not self._brings_again(before):
            return None
        owners = {row.import_id for row in gone}
        standing = changes.standing(self.connection, first.person_id)
        numbers = [each.change_id for each in standing if owners.intersection(each.about.get("import_ids", ()))]
        return AmountsGone([(instant(row.taken_at_utc), row.source) for row in gone], sorted(numbers))

    def _files_before(self) -> Select[Any]:
        """The ledger's entries of the files of this name and layout that this person brought before."""
        first = self.first[0]
        return select(imports.c.import_id).where(
            imports.c.person_id == first.person_id,
            imports.c.file == first.file,
            imports.c.layout == first.layout,
            imports.c.import_id.not_in(self.new_ids),
        )

    def _day_of_the_first(self) -> int:
        """The minute in which the local day of its first amount began: windows that move on are cut at midnight."""
        zone = known_person(self.connection, self.first[0].person_id).zone_now()
        day = instant(min(minute for minute, _ in self.given) * MICROSECONDS_IN_A_MINUTE).astimezone(zone).date()
        return stored(datetime.combine(day, time(), zone)) // MICROSECONDS_IN_A_MINUTE

    def _brings_again(self, before: Select[Any]) -> bool:
        """Whether some amount of it was brought by a file of the same name before."""
        table = doses.c
        mine = (table.person_id == self.first[0].person_id, table.import_id.in_(before))
        known = self.connection.execute(select(table.minute, table.source).where(*mine)).all()
        return any((row.minute, row.source) in self.given for row in known)

    def ask(self, question: Question) -> bool:
        """Asks about the file as a whole. Returns whether that is new; nothing is asked of a file known already."""
        if not self.new_ids:
            return False
        told = replace(question, about={**question.about, "import_ids": list(self.new_ids)})
        return bool(stored_questions.ask(self.connection, [told], self.now_utc, "import", self.new_ids[0]))

    def note_change(self) -> Noted | None:
        """Notes the whole file as one change that can be taken back; looked at again, it is the same one still."""
        if not self.new_ids and not self.counts:
            return None
        first = self.first[0]
        about: dict[str, Any] = {"import_ids": self.new_ids}
        if self.counts:
            about["rows_of_counts"] = self.counts
        kind = changes.GIVEN if first.layout == changes.GIVE else changes.IMPORT
        if kind == changes.GIVEN:
            told = first.doses.select("taken_at_utc", "source", "amount", "amount_unit", "grams")
            about["doses"] = [{**row, "taken_at_utc": row["taken_at_utc"].isoformat()} for row in told.to_dicts()]
            about["as_typed"] = _asked_about(first)
        else:
            about |= {"file": first.file, "rows": sum(self.rows) + len(self.counts)}
        changes.record(self.connection, first.person_id, kind, self.now_utc, about)
        return Noted(kind, first.person_id)


def _asked_about(batch: Batch) -> list[str]:
    """Of each dose the words as they were typed where it is asked about: it has no unit and no source yet; else ''."""
    typed = {each.key: str(each.about.get("text") or "") for each in batch.questions if "ordinal" in each.about}
    rows = batch.doses.select("taken_at_utc", "source", "ordinal", "amount_unit").iter_rows()
    return ["" if unit else typed.get(dose_key(at.isoformat(), of, number), "") for at, of, number, unit in rows]
