"""Blocks as rows: each with its owner, model version, count, first and last instant, and a hash over all of it.

A block that does not agree with its hash is as good as none: it is made again from the rows of the inputs.
"""

from collections.abc import Iterable, Iterator
from hashlib import blake2b
from typing import Any, Final

from sqlalchemy import Connection, delete, insert, select

from gramrise.domain.findings import MODEL_VERSION
from gramrise.domain.memo import Block
from gramrise.store.schema import blocks as table

HASH_BYTES: Final = 16
FIELDS: Final = ("kind", "slot", "key", "rows_n", "first_us", "last_us", "content")
Name = tuple[str, int]  # kind and slot


def hash_of(person_id: str, model_version: str, block: Block) -> bytes:
    """BLAKE2b over everything a row says, its owner among it."""
    told = repr((person_id, model_version, len(block.content), *block[: len(FIELDS) - 1])).encode()
    return blake2b(told + block.content, digest_size=HASH_BYTES).digest()


def sound(connection: Connection, person_id: str, of_model: str = MODEL_VERSION) -> dict[Name, tuple[bytes, Block]]:
    """The person's blocks of one model version that agree with their hash, each with it, in order of kind and slot."""
    return {
        (block.kind, block.slot): (own_hash, block)
        for own_hash, model_version, block, agrees in _rows(connection, person_id)
        if agrees and model_version == of_model
    }


def unsound(connection: Connection, person_id: str) -> list[Name]:
    """Kind and slot of the person's blocks that do not agree with their hash."""
    return [(block.kind, block.slot) for _, _, block, agrees in _rows(connection, person_id) if not agrees]


def replace(connection: Connection, person_id: str, current: Iterable[Block]) -> dict[Name, bytes]:
    """Makes these the person's only blocks and gives their hashes; those that were read from here are not rewritten."""
    chosen = select(table.c.kind, table.c.slot, table.c.hash).where(table.c.person_id == person_id)
    stored = {(kind, slot): own_hash for kind, slot, own_hash in connection.execute(chosen)}
    hashes: dict[Name, bytes] = {}
    new = []
    for block in current:
        name = (block.kind, block.slot)
        if block.proof and stored.get(name) == block.proof:
            hashes[name] = stored.pop(name)
            continue
        hashes[name] = hash_of(person_id, MODEL_VERSION, block)
        told = {"person_id": person_id, "model_version": MODEL_VERSION, "hash": hashes[name]}
        new.append(told | {field: getattr(block, field) for field in FIELDS})
    for kind, slot in stored:
        mine = (table.c.person_id == person_id, table.c.kind == kind, table.c.slot == slot)
        connection.execute(delete(table).where(*mine))
    if new:
        connection.execute(insert(table), new)
    return hashes


def _rows(connection: Connection, person_id: str) -> Iterator[tuple[bytes, str, Block, bool]]:
    """Hash, model version and block of each row, and whether they agree."""
    names = ("hash", "model_version", *FIELDS)
    chosen = select(*(table.c[name] for name in names)).where(table.c.person_id == person_id)
    for own_hash, model_version, *rest in connection.execute(chosen.order_by(table.c.kind, table.c.slot)).all():
        block = Block._make((*rest, own_hash))
        yield own_hash, model_version, block, _agrees(own_hash, person_id, model_version, block)


def _agrees(own_hash: Any, person_id: str, model_version: Any, block: Block) -> bool:
    return isinstance(block.content, bytes) and bool(own_hash == hash_of(person_id, model_version, block))
