"""Findings of a person, kept whole; and, apart from them, what was shown on a night."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import TYPE_CHECKING, Final

import polars as pl
from sqlalchemy import ColumnElement, Connection, Table, delete, func, insert, select

from gramrise.domain import frames
from gramrise.domain.findings import MODEL_VERSION, Findings
from gramrise.domain.frames import FrameContract
from gramrise.domain.problems import ColumnsMissing
from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import findings as header
from gramrise.store.schema import findings_frames, persons, shown_factors, shown_predictions
from gramrise.store.upsert import insert_into

if TYPE_CHECKING:
    from gramrise.domain.kept import Kept, ToKeep

CONTRACTS: Final[dict[str, FrameContract]] = {
    "lows": frames.LOWS,
    "treatments": frames.TREATMENTS,
    "pairings": frames.PAIRINGS,
    "paths": frames.PATHS,
    "factors": frames.FACTORS,
    "predictions": frames.PREDICTIONS,
    "courses": frames.COURSES,
}


LOWS: Final = "lows"
TREATMENTS: Final = "treatments"
PATHS: Final = "paths"  # kept as pictures, a treatment each; as a frame only where nothing is kept for another night
SCREENED: Final = "screened"
DERIVED: Final = (PATHS, TREATMENTS)  # not kept as frames where another night goes on: treatments stand in SCREENED
BASIS: Final = "basis"


def _packed(frame: pl.DataFrame) -> bytes:
    into = BytesIO()
    frame.write_ipc(into, compression="zstd")
    return into.getvalue()


@dataclass(frozen=True, slots=True)
class Before:
    """What was found last time, to go on from.

    changed_from_utc  earliest instant whose inputs changed since; None: nothing did
    basis             what it was found with: settings as the caller wrote them down
    """

    as_of_utc: datetime
    lows: pl.DataFrame
    treatments: pl.DataFrame
    screened: pl.DataFrame
    changed_from_utc: datetime | None
    basis: str
    kept: "Kept"


@dataclass(frozen=True, slots=True)
class GoingOn:
    """What a night leaves for the next one beside its findings.

    before   what it went on from itself: of that, what is the same need not be written again
    """

    screened: pl.DataFrame
    basis: str
    to_keep: "ToKeep"
    before: Before | None = None


def save(
    connection: Connection,
    person_id: str,
    found: Findings,
    inputs_version: int,
    going_on: GoingOn | None = None,
) -> None:
    """Replaces the person's findings. Raises ColumnsMissing when a frame does not keep its contract.

    going_on   what is kept beside them for the next night; None: it will find everything anew
    """
    from gramrise.domain.kept import ToKeep  # here: who reads findings need not load numpy
    from gramrise.store.findings import measurements

    connection.execute(delete(header).where(header.c.person_id == person_id))
    connection.execute(
        insert(header).values(
            person_id=person_id,
            as_of_utc=stored(found.as_of_utc),
            model_version=found.model_version,
            inputs_version=inputs_version,
            log_next=found.log_next,
        )
    )
    if going_on is None:
        measurements.change(connection, person_id, ToKeep())
        _replace(
            connection,
            person_id,
            {name: contract.check(getattr(found, name)) for name, contract in CONTRACTS.items()},
            set(),
        )
        return
    measurements.change(connection, person_id, going_on.to_keep)
    whole = {**{name: getattr(found, name) for name in CONTRACTS if name not in DERIVED}, SCREENED: going_on.screened}
    same = _same(whole, going_on.before)
    changed = {name: _contract(name).check(frame) for name, frame in whole.items() if name not in same}
    _replace(connection, person_id, changed, same)
    if going_on.before is None or going_on.before.basis != going_on.basis:
        connection.execute(delete(findings_frames).where(*_named(person_id, BASIS)))
        row = {"person_id": person_id, "frame": BASIS, "rows_n": 1, "arrow": going_on.basis.encode()}
        connection.execute(insert(findings_frames), [row])


def stands_still(connection: Connection, person_id: str, before: Before | None) -> bool:
    """Whether the findings gone on from are still the latest; else what is kept beside them is of another night."""
    if before is None:
        return True
    latest = connection.execute(select(header.c.as_of_utc).where(header.c.person_id == person_id)).scalar_one_or_none()
    return latest == stored(before.as_of_utc)


def _contract(name: str) -> FrameContract:
    return frames.SCREENED if name == SCREENED else CONTRACTS[name]


def _same(whole: dict[str, pl.DataFrame], before: Before | None) -> set[str]:
    """Names of the frames that stand as they were: these need not be written again."""
    if before is None:
        return set()
    return {BASIS, *(name for name in (LOWS, SCREENED) if whole[name].equals(getattr(before, name)))}


def _named(person_id: str, *frames_wanted: str) -> tuple[ColumnElement[bool], ...]:
    return findings_frames.c.person_id == person_id, findings_frames.c.frame.in_(frames_wanted)


def _replace(connection: Connection, person_id: str, changed: dict[str, pl.DataFrame], same: set[str]) -> None:
    """Writes the frames that changed; of those there only `same` stay."""
    mine = (findings_frames.c.person_id == person_id, findings_frames.c.frame.not_in(same))
    connection.execute(delete(findings_frames).where(*mine))
    rows = [
        {"person_id": person_id, "frame": name, "rows_n": frame.height, "arrow": _packed(frame)}
        for name, frame in changed.items()
    ]
    if rows:
        connection.execute(insert(findings_frames), rows)


def load(connection: Connection, person_id: str, only: Collection[str] | None = None) -> tuple[Findings, int] | None:
    """The findings and the version of the inputs they rest on; None when there are none of today's form.

    only   names of the frames that are read, the others staying empty; None: all
    """
    top = connection.execute(select(header).where(header.c.person_id == person_id)).first()
    if top is None:
        return None
    wanted = set(CONTRACTS) if only is None else set(only)
    stored_frames = (*wanted, SCREENED) if TREATMENTS in wanted else tuple(wanted)
    packed = select(findings_frames.c.frame, findings_frames.c.arrow).where(*_named(person_id, *stored_frames))
    try:
        read = {
            row.frame: _contract(row.frame).check(pl.read_ipc(BytesIO(row.arrow))) for row in connection.execute(packed)
        }
    except ColumnsMissing:  # written by an older gramrise: to be computed again
        return None
    if PATHS in wanted and PATHS not in read:
        from gramrise.store.findings import measurements

        read[PATHS] = measurements.paths(connection, person_id)
    if TREATMENTS in wanted and TREATMENTS not in read:
        read[TREATMENTS] = read[SCREENED][list(frames.TREATMENTS.schema)]
    read.pop(SCREENED, None)
    log_next = top.log_next
    found = Findings(instant(top.as_of_utc), model_version=top.model_version, log_next=log_next, **read)
    return found, top.inputs_version


def load_before(connection: Connection, person_id: str) -> Before | None:
    """What the last findings leave to go on from; None when they are of another model or form, or left nothing."""
    top = connection.execute(select(header).where(header.c.person_id == person_id)).first()
    if top is None or top.model_version != MODEL_VERSION:
        return None
    wanted = (LOWS, SCREENED, BASIS)
    packed = select(findings_frames.c.frame, findings_frames.c.arrow).where(*_named(person_id, *wanted))
    read = {row.frame: row.arrow for row in connection.execute(packed)}
    if set(read) != set(wanted):
        return None
    try:
        lows, screened = (_contract(name).check(pl.read_ipc(BytesIO(read[name]))) for name in (LOWS, SCREENED))
    except ColumnsMissing:
        return None
    since = select(persons.c.changed_from).where(persons.c.person_id == person_id)
    changed = instant_or_none(connection.execute(since).scalar_one_or_none())
    as_of = instant(top.as_of_utc)
    from gramrise.store.findings import measurements

    still = measurements.load(connection, person_id, as_of if changed is None else min(as_of, changed))
    treatments = screened[list(frames.TREATMENTS.schema)]
    return Before(as_of, lows, treatments, screened, changed, read[BASIS].decode(errors="replace"), still)


def keep_as_shown(connection: Connection, person_id: str, found: Findings) -> None:
    """Keeps what a night shows: its factors, and each prediction the first time it is shown. Never changed later."""
    told = {"person_id": person_id, "shown_at": stored(found.as_of_utc), "model_version": found.model_version}
    columns = ("first_dose_utc", "minutes_after", "predicted_mg_dl", "p05_mg_dl", "p95_mg_dl")
    predicted = _not_yet_shown(connection, person_id, found.predictions).select(columns)
    _insert_new(connection, shown_predictions, [told | _stored_row(row) for row in predicted.to_dicts()])
    names = [column.name for column in shown_factors.columns if column.name not in told]
    _insert_new(connection, shown_factors, [told | row for row in found.factors.select(names).to_dicts()])


def _not_yet_shown(connection: Connection, person_id: str, predictions: pl.DataFrame) -> pl.DataFrame:
    """Predictions that no night has shown yet."""
    table = shown_predictions.c
    known = select(table.first_dose_utc, table.minutes_after).where(table.person_id == person_id)
    shown_before = {(first, minutes) for first, minutes in connection.execute(known)}
    keys = zip(
        predictions["first_dose_utc"].dt.epoch("us").to_list(), predictions["minutes_after"].to_list(), strict=True
    )
    return predictions.filter(pl.Series([key not in shown_before for key in keys], dtype=pl.Boolean))


def _stored_row(row: dict[str, object]) -> dict[str, object]:
    return {name: stored(value) if isinstance(value, datetime) else value for name, value in row.items()}


def _insert_new(connection: Connection, table: Table, rows: list[dict[str, object]]) -> None:
    rows = [row for row in rows if None not in row.values()]
    if rows:
        connection.execute(insert_into(connection, table).on_conflict_do_nothing(), rows)


def shown(connection: Connection, person_id: str) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What was shown on past nights: (factors, predictions), oldest first, instants datetime[us, UTC]."""
    made = []
    for table in (shown_factors, shown_predictions):
        chosen = select(table).where(table.c.person_id == person_id).order_by(table.c.shown_at)
        rows = [dict(row._mapping) for row in connection.execute(chosen)]
        times = [name for name in ("shown_at", "first_dose_utc") if name in table.c]
        frame = pl.DataFrame(rows, schema={c.name: _TYPES[c.type.__class__.__name__] for c in table.columns})
        made.append(frame.with_columns(pl.col(times).cast(frames.UTC)))
    return made[0], made[1]


_TYPES: Final = {"Text": pl.String(), "BigInteger": pl.Int64(), "Integer": pl.Int32(), "Float": pl.Float64()}


def shown_by(connection: Connection, person_id: str, at_utc: datetime) -> Findings | None:
    """What the latest night up to an instant showed, its factors only; None when there was none.

    Columns that were not kept are null.
    """
    mine = (shown_factors.c.person_id == person_id, shown_factors.c.shown_at <= stored(at_utc))
    latest = connection.execute(select(func.max(shown_factors.c.shown_at)).where(*mine)).scalar_one_or_none()
    if latest is None:
        return None
    kept = select(shown_factors).where(shown_factors.c.person_id == person_id, shown_factors.c.shown_at == latest)
    rows = [dict(row._mapping) for row in connection.execute(kept)]
    shown_then = instant(latest)
    told = [{**row, "as_of_utc": shown_then} for row in rows]
    factors = pl.DataFrame(
        [{name: row.get(name) for name in frames.FACTORS.schema} for row in told], schema=frames.FACTORS.schema
    )
    return Findings(shown_then, factors=frames.FACTORS.check(factors), model_version=rows[0]["model_version"])
