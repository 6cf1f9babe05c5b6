"""Findings of a person, saved whole: a row that says of what they are, and blocks that hold them.

Most blocks are remembered results, which the findings are put together from: lows and treatments of four weeks each,
pictures of treatments. So each number is kept once. The row's hash covers the hashes of all blocks: where one is
missing, damaged, of another night or of another person, there are no findings until they are computed again.
"""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from typing import Any, Final, NamedTuple

import polars as pl
from sqlalchemy import Connection, delete, insert, select

from gramrise.domain import frames
from gramrise.domain.findings import MODEL_VERSION, Findings
from gramrise.domain.frames import FrameContract
from gramrise.domain.memo import Block, Memo, fingerprint
from gramrise.domain.pictures import paths_of
from gramrise.domain.problems import ColumnsMissing
from gramrise.store.findings import blocks
from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import findings as header

# Frames that no remembered result holds; each is one block.
WHOLE: Final[dict[str, FrameContract]] = {
    "pairings": frames.PAIRINGS,
    "factors": frames.FACTORS,
    "predictions": frames.PREDICTIONS,
    "courses": frames.COURSES,
}
# Frames that are put together from remembered results; saved whole where findings come without a memo.
TOGETHER: Final[dict[str, FrameContract]] = {
    "lows": frames.LOWS,
    "treatments": frames.TREATMENTS,
    "paths": frames.PATHS,
}
SCREENED: Final = "screened"
PICTURE: Final = "picture"
ONLY_SLOT: Final = 0


@dataclass(frozen=True, slots=True)
class Loaded:
    """Findings as they are stored, proved sound, and the version of the inputs they rest on."""

    header: Any
    blocks: tuple[Block, ...]

    def is_current(self, inputs_version: int) -> bool:
        """Whether they rest on today's inputs and model."""
        return bool(self.header.inputs_version == inputs_version and self.header.model_version == MODEL_VERSION)


class Unsound(NamedTuple):
    """Something stored of a person that does not agree with its hash. `kind` is `findings` for all of them together."""

    person_id: str
    kind: str
    slot: int


# What the header tells beside its hash.
TOLD: Final = ("as_of_utc", "model_version", "inputs_version", "log_next", "unnoticed_low_at")


def save(
    connection: Connection, person_id: str, found: Findings, inputs_version: int, memo: Memo | None = None
) -> None:
    """Replaces the person's findings. Raises ColumnsMissing when a frame does not keep its contract.

    memo   the results they were put together from; None: all frames are saved whole, and nothing is remembered
    """
    remembered: Iterable[Block] = () if memo is None else memo.current.values()
    contracts = {**WHOLE, **(TOGETHER if memo is None else {})}
    made = [_block(name, contract.check(getattr(found, name))) for name, contract in contracts.items()]
    hashes = blocks.replace(connection, person_id, [*remembered, *made])
    row = {
        "as_of_utc": stored(found.as_of_utc),
        "model_version": found.model_version,
        "inputs_version": inputs_version,
        "log_next": found.log_next,
        "unnoticed_low_at": None if found.unnoticed_low_utc is None else stored(found.unnoticed_low_utc),
    }
    connection.execute(delete(header).where(header.c.person_id == person_id))
    whole = _hash_of(person_id, row, hashes)
    connection.execute(insert(header).values(person_id=person_id, hash=whole, **row))


def load(connection: Connection, person_id: str) -> Loaded | None:
    """The stored findings; None when there are none, or something of them does not agree with its hash."""
    top = connection.execute(select(header).where(header.c.person_id == person_id)).first()
    if top is None:
        return None
    sound = blocks.sound(connection, person_id, top.model_version)
    row = {name: top._mapping[name] for name in TOLD}
    if top.hash != _hash_of(person_id, row, {name: own_hash for name, (own_hash, _) in sound.items()}):
        return None
    return Loaded(top, tuple(block for _, block in sound.values()))


def unsound(connection: Connection, person_id: str) -> list[Unsound]:
    """What of a person's findings and remembered results does not agree with its hash."""
    found = [Unsound(person_id, *name) for name in blocks.unsound(connection, person_id)]
    some = connection.execute(select(header.c.person_id).where(header.c.person_id == person_id)).first() is not None
    if some and load(connection, person_id) is None:
        found.append(Unsound(person_id, "findings", ONLY_SLOT))
    return found


def findings_of(person_id: str, loaded: Loaded, only: Collection[str] | None = None) -> Findings | None:
    """Stored findings as frames; None when they are of an older form.

    only   names of the frames that are read, the others staying empty; None: all
    """
    parts: dict[str, list[Block]] = {}
    for block in loaded.blocks:
        parts.setdefault(block.kind, []).append(block)
    readers: dict[str, Callable[[], pl.DataFrame]] = {
        **{name: partial(_frame, contract, parts.get(name, ())) for name, contract in WHOLE.items()},
        "lows": partial(_frame, frames.LOWS, parts.get("lows", ())),
        "treatments": partial(_treatments, parts),
        "paths": partial(_paths, person_id, parts),
    }
    try:
        whole = {name: read() for name, read in readers.items() if only is None or name in only}
    except ColumnsMissing:  # written by an older gramrise: to be computed again
        return None
    top = loaded.header
    return Findings(
        instant(top.as_of_utc),
        model_version=top.model_version,
        log_next=top.log_next,
        unnoticed_low_utc=instant_or_none(top.unnoticed_low_at),
        **whole,
    )


def _treatments(parts: dict[str, list[Block]]) -> pl.DataFrame:
    if SCREENED in parts:
        return _frame(frames.SCREENED, parts[SCREENED]).select(list(frames.TREATMENTS.schema))
    return _frame(frames.TREATMENTS, parts.get("treatments", ()))


def _paths(person_id: str, parts: dict[str, list[Block]]) -> pl.DataFrame:
    if "paths" in parts:
        return _frame(frames.PATHS, parts["paths"])
    return paths_of(person_id, ((block.slot, block.content) for block in parts.get(PICTURE, ())))


def _frame(contract: FrameContract, parts: Iterable[Block]) -> pl.DataFrame:
    """The frame that blocks hold together; blocks stand in order of time."""
    read = [contract.check(pl.read_ipc_stream(BytesIO(block.content))) for block in parts]
    return pl.concat(read) if read else contract.empty()


def _block(kind: str, frame: pl.DataFrame) -> Block:
    into = BytesIO()
    frame.write_ipc_stream(into, compression="zstd")
    times = [name for name, dtype in frame.schema.items() if isinstance(dtype, pl.Datetime)]
    at = frame[times[0]].dt.epoch("us").drop_nulls().sort() if times else pl.Series([], dtype=pl.Int64)
    first, last = (int(at[0]), int(at[-1])) if len(at) else (0, 0)
    return Block(kind, ONLY_SLOT, b"", frame.height, first, last, into.getvalue())


def _hash_of(person_id: str, row: dict[str, Any], hashes: dict[blocks.Name, bytes]) -> bytes:
    """Fingerprint of the row and of all its blocks."""
    named = (f"{kind} {slot} {own_hash.hex()}" for (kind, slot), own_hash in sorted(hashes.items()))
    return fingerprint(person_id, repr(sorted(row.items())), "\n".join(named))
