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
Name = tuple[str, int]  # kind and slot


def hash_of(person_id: str, model_version: str, block: Block) -> bytes:
    """BLAKE2b over everything a row says, its owner among it."""
    told = repr((person_id, model_version, *block[:-1])).encode()
    digest = blake2b(len(told).to_bytes(8, "little"), digest_size=HASH_BYTES)
    digest.update(told)
    digest.update(block.content)
    return digest.digest()


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
    """Makes these the person's only blocks and gives their hashes; what stands the same already is not written."""
    hashed = {(block.kind, block.slot): (hash_of(person_id, MODEL_VERSION, block), block) for block in current}
    stored = {
        (block.kind, block.slot): own if agrees else b"" for own, _, block, agrees in _rows(connection, person_id)
    }
    for kind, slot in stored:
        if (kind, slot) not in hashed or hashed[kind, slot][0] != stored[kind, slot]:
            mine = (table.c.person_id == person_id, table.c.kind == kind, table.c.slot == slot)
            connection.execute(delete(table).where(*mine))
    new = [
        {"person_id": person_id, "model_version": MODEL_VERSION, "hash": own_hash, **block._asdict()}
        for name, (own_hash, block) in hashed.items()
        if stored.get(name) != own_hash
    ]
    if new:
        connection.execute(insert(table), new)
    return {name: own_hash for name, (own_hash, _) in hashed.items()}


def _rows(connection: Connection, person_id: str) -> Iterator[tuple[bytes, str, Block, bool]]:
    """Hash, model version and block of each row, and whether they agree."""
    names = ("hash", "model_version", *Block._fields)
    chosen = select(*(table.c[name] for name in names)).where(table.c.person_id == person_id)
    for own_hash, model_version, *rest in connection.execute(chosen.order_by(table.c.kind, table.c.slot)):
        block = Block(*rest)
        yield own_hash, model_version, block, _agrees(own_hash, person_id, model_version, block)


def _agrees(own_hash: Any, person_id: str, model_version: Any, block: Block) -> bool:
    return isinstance(block.content, bytes) and own_hash == hash_of(person_id, model_version, block)
