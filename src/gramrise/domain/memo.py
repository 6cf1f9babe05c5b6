"""What was computed before, each result under a fingerprint of everything it was computed from.

A result is used again only where its fingerprint is the one asked for; otherwise it is computed again. So nothing has
to be known about which past results a change reaches.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import blake2b
from itertools import pairwise
from typing import Final, NamedTuple, Self

import numpy as np
import polars as pl

from gramrise.domain.frames import READINGS

FINGERPRINT_BYTES: Final = 16
NO_READINGS: Final = bytes(FINGERPRINT_BYTES)  # the fingerprint of a day without readings
DAY_US: Final = 86_400_000_000


def fingerprint(*parts: bytes | str) -> bytes:
    """BLAKE2b of the parts in their order, each with its length, so that no two lists of parts read the same."""
    told = [part.encode() if isinstance(part, str) else part for part in parts]
    lengths = repr([len(part) for part in told]).encode()
    return blake2b(b"".join([lengths, *told]), digest_size=FINGERPRINT_BYTES).digest()


class Block(NamedTuple):
    """One remembered result of one person.

    kind, slot  name it: what it is, and of which weeks or treatment
    key         fingerprint of everything it was computed from
    rows_n      rows it holds, from first_us to last_us (microseconds since 1970-01-01 00:00 UTC; 0 where there is none)
    """

    kind: str
    slot: int
    key: bytes
    rows_n: int
    first_us: int
    last_us: int
    content: bytes
    proof: bytes = b""  # the hash under which the store holds just this; empty: it is not stored yet


class Memo:
    """Blocks from earlier nights, and those that hold now: the ones asked for and found, and the ones made anew."""

    def __init__(self, earlier: Iterable[Block] = ()) -> None:
        self._earlier = {(block.kind, block.slot): block for block in earlier}
        self.current: dict[tuple[str, int], Block] = {}

    def recall(self, kind: str, slot: int, key: bytes) -> bytes | None:
        """The content that was computed from what `key` stands for; None: it has to be computed."""
        block = self._earlier.get((kind, slot))
        if block is None or block.key != key:
            return None
        self.current[kind, slot] = block
        return block.content

    def remember(self, block: Block) -> None:
        self.current[block.kind, block.slot] = block


@dataclass(frozen=True, slots=True)
class ReadingsByDay:
    """A person's readings, fetched when asked for, with a fingerprint of each UTC day's readings.

    first_day  number of the first day that has readings, counted from 1970-01-01
    prints     a fingerprint for each day from there to the last that has readings
    first_us, last_us  instants of the first and the last reading; None without any
    fetch      (from_us, to_us) to READINGS in [from, to)
    """

    fetch: Callable[[int, int], pl.DataFrame]
    first_day: int = 0
    prints: tuple[bytes, ...] = ()
    first_us: int | None = None
    last_us: int | None = None

    @classmethod
    def of(cls, readings: pl.DataFrame) -> Self:
        """READINGS that are in memory already."""
        readings = READINGS.check(readings)
        if not readings.height:
            return cls(lambda _from_us, _to_us: readings)
        at_us = readings["at_utc"].dt.epoch("us").to_numpy()
        values, ranges = readings["glucose_mg_dl"].to_numpy(), readings["range"]
        first_day, last_day = int(at_us[0] // DAY_US), int(at_us[-1] // DAY_US)
        ends = np.searchsorted(at_us, DAY_US * np.arange(first_day, last_day + 2)).tolist()
        prints = tuple(
            fingerprint(at_us[low:high].tobytes(), values[low:high].tobytes(), "".join(ranges[low:high].to_list()))
            if high > low
            else NO_READINGS
            for low, high in pairwise(ends)
        )

        def fetch(from_us: int, to_us: int) -> pl.DataFrame:
            low, high = np.searchsorted(at_us, [from_us, to_us]).tolist()
            return readings[low:high]

        return cls(fetch, first_day, prints, int(at_us[0]), int(at_us[-1]))

    def prints_between(self, from_us: int, to_us: int) -> bytes:
        """Fingerprints of all days that [from, to) touches, in their order."""
        first, past = from_us // DAY_US, -(-to_us // DAY_US)
        low, high = first - self.first_day, past - self.first_day
        before, after = min(max(-low, 0), past - first), min(max(high - len(self.prints), 0), past - first)
        inside = self.prints[max(low, 0) : max(high, 0)]
        return NO_READINGS * before + b"".join(inside) + NO_READINGS * after
