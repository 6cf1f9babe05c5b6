"""The open transaction in which all batches of one file are put away."""

from dataclasses import dataclass, field, replace
from datetime import datetime

from sqlalchemy import Connection

from gramrise.domain.batch import Batch, ImportSummary
from gramrise.store.ingest.overlap import Overlap
from gramrise.store.ingest.take_in import take_in
from gramrise.store.persons import refuse_unknown


@dataclass(frozen=True, slots=True)
class FileTransaction:
    """The open transaction of one file. `overlap`: its readings beside those known; to doubt them, raise within it."""

    connection: Connection
    now_utc: datetime
    dry_run: bool
    retry: bool
    overlap: Overlap = field(default_factory=Overlap)

    def batch(self, batch: Batch) -> ImportSummary:
        """Puts one batch away. Raises WrongUse for an unknown person."""
        refuse_unknown(self.connection, batch.person_id)
        summary = take_in(self.connection, batch, self.now_utc, self.retry, self.overlap)
        return replace(summary, dry_run=self.dry_run)
