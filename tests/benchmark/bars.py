"""Bars from cells, and the table they are printed in."""

from dataclasses import dataclass

import numpy as np
from cells import Cell

SPLITS = ((0, 4), (5, 14), (15, 39), (40, 10**6))
MANY = 15  # used pairings from which a band's own treatments speak
MOST_ERROR_OF_40 = 7.0
COVERS = (85.0, 97.0)
MOST_HIGH_TO_LOW = {15: 1.75, 40: 1.6}
TARGETS = {True: (8.0, 0.5, 1.7), False: (10.0, 0.65, 2.2)}  # error %, share of naive, median high/low
ALONE = 1.15


@dataclass(frozen=True, slots=True)
class Bar:
    what: str
    measured: str
    value: str
    bar: str
    holds: bool | None  # None: not a bar, or not run
    cells: int

    @property
    def verdict(self) -> str:
        if self.holds is None:
            return "NOT RUN" if self.bar else ""
        return "holds" if self.holds else "FALLS SHORT"


def bars_of_cells(name: str, logged: bool, cells: list[Cell], of_pool: list[Cell] | None) -> list[Bar]:
    """All bars of one cohort; cells split by the number of used pairings."""
    found: list[Bar] = []
    most_error, of_naive, most_ratio = TARGETS[logged]
    for low, high in SPLITS:
        some = [c for c in cells if low <= c.used_n <= high]
        label = f"{low}+" if high > 1000 else f"{low}-{high}"
        what, n = f"{name}; {label} pairings", len(some)
        if not some:
            found.append(Bar(what, "error", "no cells", f"<= {most_error:.0f} %", None, 0))
            continue
        ours, naive, shrunk, table = (_error(some, f) for f in ("ours", "naive", "naive_shrunk", "table"))
        alone, regression = _error(some, "measured"), _error(some, "regression")
        bias = 100 * (np.exp(np.mean([np.log(c.ours / c.true) for c in some])) - 1)
        perfect = _error([c for c in some if c.perfect > 0], "perfect")
        seen = (
            f"naive {naive:.1f}, shrunk naive {shrunk:.1f}, regression {regression:.1f}, without it {alone:.1f}, "
            f"table {table:.1f}, perfect {perfect:.1f}, bias {bias:+.1f}"
        )
        if low >= MANY:
            most = min(most_error, MOST_ERROR_OF_40) if low >= 40 else most_error
            found += [
                Bar(what, "error", f"{ours:.1f} % ({seen})", f"<= {most:.0f} %", ours <= most, n),
                Bar(what, "of naive", f"{ours / naive:.2f}", f"<= {of_naive}", ours <= of_naive * naive, n),
                Bar(what, "below naive shrunk", f"{ours / shrunk:.2f}", "< 1", ours < shrunk, n),
            ]
        elif low >= 5:
            found.append(Bar(what, "error", f"{ours:.1f} % ({seen})", "< naive, < table", ours < min(naive, table), n))
        else:
            found.append(Bar(what, "error", f"{ours:.1f} % ({seen})", "<= table", ours <= table, n))
        inside = 100 * np.mean([c.low <= c.true <= c.high for c in some])
        ratio = float(np.median([c.high / c.low for c in some]))
        holds = bool(COVERS[0] <= inside <= COVERS[1])
        found.append(Bar(what, "90 % intervals cover", f"{inside:.0f} %", "85-97 %", holds, n))
        widest = MOST_HIGH_TO_LOW.get(low)
        bar = "" if widest is None else f"<= {widest}"
        found.append(Bar(what, "median high/low", f"{ratio:.2f}", bar, None if widest is None else ratio <= widest, n))
    return found + _whole(name, most_ratio, cells, of_pool)


def _whole(name: str, most_ratio: float, cells: list[Cell], of_pool: list[Cell] | None) -> list[Bar]:
    n = len(cells)
    inside = 100 * np.mean([c.low <= c.true <= c.high for c in cells])
    many = [c.high / c.low for c in cells if c.used_n >= MANY]
    ratio = float(np.median(many)) if many else float("nan")
    bars = [
        Bar(f"{name}; all", "90 % intervals cover", f"{inside:.0f} %", "85-95 %", 85 <= inside <= 95, n),
        Bar(
            f"{name}; 15+ pairings",
            "median high/low",
            f"{ratio:.2f}",
            f"<= {most_ratio}",
            ratio <= most_ratio,
            len(many),
        ),
    ]
    if of_pool is not None:
        known = {(c.person_id, c.band) for c in cells if c.used_n >= SPLITS[1][0]}
        alone = _error([c for c in cells if (c.person_id, c.band) in known], "ours")
        pool = _error([c for c in of_pool if (c.person_id, c.band) in known], "ours")
        text = f"{alone / pool:.2f} ({alone:.1f} against {pool:.1f} %)"
        bars.append(
            Bar(f"{name}; 5+ pairings", "one family / pool", text, f"<= {ALONE}", alone <= ALONE * pool, len(known))
        )
    return bars


def _error(cells: list[Cell], which: str) -> float:
    """Mean absolute error, % of the truth."""
    return 100 * float(np.mean([abs(getattr(c, which) / c.true - 1) for c in cells])) if cells else float("nan")


def text_table(head: str, bars: list[Bar]) -> str:
    rows = [("what", "measured", "value", "bar", "verdict", "cells")]
    rows += [(b.what, b.measured, b.value, b.bar, b.verdict, str(b.cells)) for b in bars]
    wide = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join([head, *("  ".join(c.ljust(w) for c, w in zip(row, wide, strict=True)).rstrip() for row in rows)])
