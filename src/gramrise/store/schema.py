"""The tables, as they stand after the newest migration. The only place besides `migrations` that names a column in SQL.

Instants are integers: microseconds since 1970-01-01 00:00 UTC, so that no driver can lose the zone. Local dates are
ISO text. Lists and small documents are JSON text. Columns of inputs carry the names of `gramrise.domain.frames`.
"""

from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

NAMES: Final = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}
METADATA: Final = MetaData(naming_convention=NAMES)
# Wide tables whose key is the row: no second tree for a row number (26 MB a million readings, 45 with their index).
COMPACT: Final[dict[str, Any]] = {"sqlite_with_rowid": False}


def _person(primary_key: bool = False) -> Column[str]:
    return Column("person_id", Text, ForeignKey("persons.person_id"), primary_key=primary_key, nullable=False)


def _import() -> Column[int]:
    return Column("import_id", Integer, nullable=True)  # null: entered by hand, not by a file


persons = Table(
    "persons",
    METADATA,
    Column("person_id", Text, primary_key=True),
    Column("born", Text, nullable=False),
    Column("unit", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("sex", Text, nullable=False),
    Column("language", Text, nullable=False),
    Column("starting_table", Text, nullable=False),
    Column("inputs_version", Integer, nullable=False),  # raised by every change of an input or fact
    Column("changed_from", BigInteger),  # earliest instant changed since the findings were saved; null: nothing
    **COMPACT,
)
person_facts = Table(
    "person_facts",
    METADATA,
    _person(True),
    Column("fact", Text, primary_key=True),
    Column("from_on", Text, primary_key=True),
    Column("value", Text, nullable=False),
    **COMPACT,
)
# Every version of the care plan, never overwritten. `plan` is JSON (`care_plans.py`); null: taken back for that day.
care_plans = Table(
    "care_plans",
    METADATA,
    _person(True),
    Column("version", Integer, primary_key=True),  # 1, 2, ... of this person
    Column("from_on", Text, nullable=False),  # local date from which it holds
    Column("plan", Text),
    **COMPACT,
)
imports = Table(
    "imports",
    METADATA,
    Column("import_id", Integer, primary_key=True),
    _person(),
    Column("file", Text, nullable=False),
    Column("content_hash", Text, nullable=False),
    Column("layout", Text, nullable=False),
    Column("taken_in_at", BigInteger, nullable=False),
    Column("rows_offered", Integer, nullable=False),
    Column("rows_repeated", Integer, nullable=False),
    Column("rows_passed_over", Integer, nullable=False),
    Column("added", Integer, nullable=False),
    Column("corrected", Integer, nullable=False),
    Column("already_known", Integer, nullable=False),
    Column("conflicts", Integer, nullable=False),
    Column("quarantined", Integer, nullable=False),
    Column("questions", Integer, nullable=False),
    Column("remarks", Text, nullable=False),
    UniqueConstraint("person_id", "content_hash"),
    Index("ix_imports_content_hash", "content_hash"),  # for whom else the very same file was taken in
)
readings = Table(
    "readings",
    METADATA,
    _person(True),
    Column("at_utc", BigInteger, primary_key=True),
    Column("glucose_mg_dl", Float, nullable=False),
    Column("range", Text, nullable=False),
    Column("offset_minutes", Integer),
    _import(),
    # Whose readings a file's equal is asked of every file, whatever the number of persons: `ingest/file_owner.py`.
    Index("ix_readings_at_utc_glucose_mg_dl", "at_utc", "glucose_mg_dl"),
    **COMPACT,
)
fingers = Table(
    "fingers",
    METADATA,
    _person(True),
    Column("at_utc", BigInteger, primary_key=True),
    Column("glucose_mg_dl", Float, nullable=False),
    Column("range", Text, nullable=False),
    _import(),
    **COMPACT,
)
doses = Table(
    "doses",
    METADATA,
    _person(True),
    Column("minute", BigInteger, primary_key=True),  # the instant cut to its minute: logs by hand have no seconds
    Column("source", Text, primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("taken_at_utc", BigInteger, nullable=False),
    Column("form", Text, nullable=False),
    Column("amount", Float),
    Column("amount_unit", Text, nullable=False),
    Column("grams", Float),
    Column("may_be_weaker", Boolean, nullable=False),
    Column("remarks", Text, nullable=False),
    Column("origin", Text, nullable=False),
    Column("noticed", Text, nullable=False, server_default=""),  # child | sensor | adult; '' where nobody says
    _import(),
    **COMPACT,
)
events = Table(
    "events",
    METADATA,
    _person(True),
    Column("at_utc", BigInteger, primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("until_utc", BigInteger),
    Column("amount", Float),
    Column("text", Text, nullable=False),
    _import(),
    **COMPACT,
)
weights = Table(
    "weights",
    METADATA,
    _person(True),
    Column("on", Text, primary_key=True),
    Column("kg", Float, nullable=False),
    _import(),
    **COMPACT,
)
corrections = Table(
    "corrections",
    METADATA,
    Column("correction_id", Integer, primary_key=True),
    _person(),
    Column("table", Text, nullable=False),
    Column("identity", Text, nullable=False),
    Column("before", Text, nullable=False),
    Column("after", Text, nullable=False),
    Column("before_import_id", Integer),
    _import(),
    Column("corrected_at", BigInteger, nullable=False),
    Index(None, "person_id"),
)
# Which rows a file stated that another had brought before: they stay when that other is taken back.
also_stated = Table(
    "also_stated",
    METADATA,
    _person(True),
    Column("import_id", Integer, primary_key=True),
    Column("table", Text, primary_key=True),
    Column("part", Integer, primary_key=True),  # 1, 2, ... where an import comes in several blocks or is retried
    Column("rows", LargeBinary, nullable=False),  # identities as a compressed frame (`ingest/also_stated.py`)
)
# What was changed, for `undo` (`changes.py`). Rows are marked as taken back, never deleted: a number is one change.
changes = Table(
    "changes",
    METADATA,
    Column("change_id", Integer, primary_key=True),
    _person(),
    Column("kind", Text, nullable=False),  # given | import | weighing | answer | facts
    Column("made_at", BigInteger, nullable=False),
    Column("about", Text, nullable=False),
    Column("taken_back_at", BigInteger),
    Index(None, "person_id"),
    sqlite_autoincrement=True,  # nor is it after `forget`
)
# Records of open standards: what each brought, so that a newer version, or its withdrawal, finds it again.
source_records = Table(
    "source_records",
    METADATA,
    _person(True),
    Column("record", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("first_utc", BigInteger),
    Column("last_utc", BigInteger),
    Column("step_us", BigInteger, nullable=False),
    Column("updated_utc", BigInteger),
    Column("withdrawn", Boolean, nullable=False),
    _import(),
    **COMPACT,
)
conflicts = Table(
    "conflicts",
    METADATA,
    Column("conflict_id", Integer, primary_key=True),
    _person(),
    Column("table", Text, nullable=False),
    Column("identity", Text, nullable=False),
    Column("kept", Text, nullable=False),
    Column("other", Text, nullable=False),
    _import(),
    UniqueConstraint("person_id", "table", "identity", "other"),
)
quarantine = Table(
    "quarantine",
    METADATA,
    Column("quarantine_id", Integer, primary_key=True),
    _person(),
    _import(),
    Column("code", Text, nullable=False),
    Column("file", Text, nullable=False),
    Column("row", Integer),
    Column("column", Text, nullable=False),
    Column("found", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("mend", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index(None, "person_id"),
)
questions = Table(
    "questions",
    METADATA,
    Column("question_id", Integer, primary_key=True),
    _person(),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("sentence", Text, nullable=False),
    Column("answers", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("asked_at", BigInteger, nullable=False),
    Column("asked_by", Text, nullable=False),  # import | detect
    _import(),
    Column("answer", Text),
    Column("answered_by", Text),
    Column("answered_at", BigInteger),
    UniqueConstraint("person_id", "kind", "key"),
)
findings = Table(
    "findings",
    METADATA,
    _person(True),
    Column("as_of_utc", BigInteger, nullable=False),
    Column("model_version", Text, nullable=False),
    Column("inputs_version", Integer, nullable=False),
    Column("log_next", Text, nullable=False),
    Column("hash", LargeBinary, nullable=False),  # of this row and of the hashes of all its blocks
    Column("unnoticed_low_at", BigInteger),  # the latest deep low that nobody noticed; null where there is none
)
# Findings and remembered results are no facts: functions of the inputs and the model version. Each block carries what
# it is, whose, and a hash over all of it (`findings/blocks.py`); what does not agree is made again. Frames are
# compressed Arrow files, so that a new column needs no migration. With row numbers: a row is longer than an index page.
blocks = Table(
    "blocks",
    METADATA,
    _person(True),
    Column("kind", Text, primary_key=True),
    Column("slot", BigInteger, primary_key=True),  # which four weeks, or the instant of a treatment's first dose
    Column("key", LargeBinary, nullable=False),  # fingerprint of everything it was computed from
    Column("model_version", Text, nullable=False),
    Column("rows_n", Integer, nullable=False),
    Column("first_us", BigInteger, nullable=False),
    Column("last_us", BigInteger, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("content", LargeBinary, nullable=False),
)
shown_predictions = Table(
    "shown_predictions",
    METADATA,
    _person(True),
    Column("first_dose_utc", BigInteger, primary_key=True),
    Column("minutes_after", Integer, primary_key=True),
    Column("predicted_mg_dl", Float, nullable=False),
    Column("p05_mg_dl", Float, nullable=False),
    Column("p95_mg_dl", Float, nullable=False),
    Column("shown_at", BigInteger, nullable=False),
    Column("model_version", Text, nullable=False),
    **COMPACT,
)
shown_factors = Table(
    "shown_factors",
    METADATA,
    _person(True),
    Column("band", Text, primary_key=True),
    Column("shown_at", BigInteger, primary_key=True),
    Column("factor_mg_dl_per_g", Float, nullable=False),
    Column("p05_factor_mg_dl_per_g", Float, nullable=False),
    Column("p95_factor_mg_dl_per_g", Float, nullable=False),
    Column("pairings_used", Integer, nullable=False),
    Column("state", Text, nullable=False),
    Column("model_version", Text, nullable=False),
    **COMPACT,
)
runs = Table(
    "runs",
    METADATA,
    Column("run_id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),  # nightly | weekly
    Column("started_at", BigInteger, nullable=False),
    Column("finished_at", BigInteger),  # null: it runs, or was cut off
)
run_persons = Table(
    "run_persons",
    METADATA,
    Column("run_id", Integer, ForeignKey("runs.run_id"), primary_key=True),
    _person(True),
    Column("for_on", Text, primary_key=True),  # local date the run was for: the night's morning, the week's last day
    Column("state", Text, nullable=False),  # done | failed | early
    Column("finished_at", BigInteger, nullable=False),
    Column("code", Text, nullable=False),
    Column("sentence", Text, nullable=False),
    Column("letters", Integer, nullable=False, server_default="0"),  # written for that week
    Column("data_until", BigInteger),  # the latest reading when they were written
    Index("ix_run_persons_person_id_for_on", "person_id", "for_on"),
    **COMPACT,
)
outbox = Table(
    "outbox",
    METADATA,
    Column("message_id", Text, primary_key=True),
    _person(),
    Column("kind", Text, nullable=False),
    Column("for_on", Text, nullable=False),  # the week's last local date
    Column("recipient", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("state", Text, nullable=False),  # waiting | sending | sent | withdrawn | given_up
    Column("message", LargeBinary, nullable=False),
    Column("written_at", BigInteger, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("next_try_at", BigInteger, nullable=False),
    Column("sent_at", BigInteger),
    Column("trouble", Text, nullable=False),
    Column("unanswered", Integer, nullable=False, server_default="0"),  # handed over whole, no answer heard
    UniqueConstraint("person_id", "kind", "for_on", "recipient"),
)
# Cards in the family's hands. The view is the whole card as it was made, JSON of the report's floor, never read in SQL.
cards = Table(
    "cards",
    METADATA,
    _person(True),
    Column("number", Integer, primary_key=True),  # 1, 2, ... of this person; never used twice
    Column("source", Text, nullable=False),
    Column("for_school", Boolean, nullable=False),
    Column("made_at", BigInteger, nullable=False),
    Column("valid_until", Text, nullable=False),  # last local date on which it holds
    Column("view", Text, nullable=False),
    Column("gone_on", Text),  # local date on which it was thrown away; null: it is out
    **COMPACT,
)
# Every sign-off as it was recorded (`references.py`); only the day on which one was taken back is added later.
signed_references = Table(
    "signed_references",
    METADATA,
    _person(True),
    Column("number", Integer, primary_key=True),  # 1, 2, ... of this person; never used twice
    Column("reference", Text, nullable=False),  # JSON of domain.references.SignedReference
    Column("withdrawn_on", Text),  # local date
    **COMPACT,
)
# Bottles of liquid mixed at home. The strength is derived from the rest, by the supplies room; null: nobody knows it.
mixed_batches = Table(
    "mixed_batches",
    METADATA,
    _person(True),
    Column("number", Integer, primary_key=True),  # 1, 2, ... of this person
    Column("source", Text, nullable=False),
    Column("mixed_at", BigInteger, nullable=False),
    Column("powder", Text, nullable=False),
    Column("powder_g", Float, nullable=False),
    Column("water_by", Text, nullable=False),
    Column("ml", Float, nullable=False),
    Column("weighed_g", Float),
    Column("citric_acid_mg", Float, nullable=False),
    Column("ascorbic_acid_mg", Float, nullable=False),
    Column("strength_g_per_ml", Float),
    Column("before", Text, nullable=False),  # JSON list: what stood here before each correction, oldest first
    **COMPACT,
)
# What was counted in a tin or bag; where the missing pieces went is found anew each time (the place room).
container_counts = Table(
    "container_counts",
    METADATA,
    _person(True),
    Column("container", Text, primary_key=True),
    Column("to_at", BigInteger, primary_key=True),
    Column("from_at", BigInteger, nullable=False),
    Column("source", Text, nullable=False),
    Column("pieces_filled", Integer, nullable=False),
    Column("pieces_left", Integer, nullable=False),
    Column("origin", Text, nullable=False),  # typed | file
    **COMPACT,
)
stock_counts = Table(
    "stock_counts",
    METADATA,
    _person(True),
    Column("source", Text, primary_key=True),
    Column("counted_at", BigInteger, primary_key=True),
    Column("amount", Float, nullable=False),  # pieces, or mL of a liquid
    **COMPACT,
)
# Phones and other devices let into the page: a row a person. Links and sessions are kept as hashes only; a phone that
# was let in for two children has two rows with one session.
devices = Table(
    "devices",
    METADATA,
    Column("device_id", Integer, primary_key=True),
    _person(),
    Column("role", Text, nullable=False),  # helper | parent | clinic
    Column("label", Text, nullable=False),  # who holds it, as the log names them
    Column("link_hash", Text),  # null: the link was used
    Column("link_until", BigInteger, nullable=False),
    Column("session_hash", Text),
    Column("let_in_at", BigInteger),
    Column("read_at", BigInteger),  # when more than the log was last opened
    Column("shut_out_at", BigInteger),
    Index(None, "session_hash"),
    Index(None, "person_id"),
    sqlite_autoincrement=True,  # a number means one device, after `forget` too
)
# What was logged on the page, under the identity that the phone gave it: handed over twice, it is one entry.
phone_entries = Table(
    "phone_entries",
    METADATA,
    _person(True),
    Column("entry", Text, primary_key=True),
    Column("device_id", Integer, nullable=False),
    Column("by", Text, nullable=False),
    Column("logged_at", BigInteger, nullable=False),
    Column("import_id", Integer, nullable=False),
    Index("ix_phone_entries_person_id_import_id", "person_id", "import_id"),
    **COMPACT,
)
service = Table(
    "service",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

# Who saw, changed or signed what: rows are only added (`access/trail.py`). `person` is a code, never an id.
audit = Table(
    "audit",
    METADATA,
    Column("audit_id", Integer, primary_key=True),
    Column("at", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("did", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("person", Text, nullable=False),
    Index("ix_audit_person", "person"),
    sqlite_autoincrement=True,
)
# Which persons a clinic's people see, by the name of the panel.
panels = Table(
    "panels",
    METADATA,
    Column("panel", Text, primary_key=True),
    _person(True),
    **COMPACT,
)

# Tables that no restore replaces and no command empties.
APART: Final = frozenset({"audit"})
# Everything that holds a person's data, children before `persons`: what `forget` empties.
OF_A_PERSON: Final = tuple(
    table for table in reversed(METADATA.sorted_tables) if "person_id" in table.c and table is not persons
)
