"""How true the rise factor is: every bar of the design on factor error, intervals, injection, placebo, in one table.

    python tests/benchmark/factors.py [--persons 48] [--seeds 1,2,3] [--days 90] [--full]
                                      [--physiology first,second,third] [--no-pool] [--out FILE]

`--full`: 204 persons over seeds 1-12 in each physiology. Ratios are taken within one run. A bar whose data are not
there prints NOT RUN. `perfect` is what the used pairings' true factors would give: the floor that scatter leaves.
Outside traces: folder named by GRAMRISE_OUTSIDE_DATA.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import polars as pl
from bars import Bar, bars_of_cells, text_table
from cells import Cell, Settings, cells_of, estimated_of, pooled, settings
from cohorts import DAYS, Part, parts, with_untreated_lows, without_insulin
from injection import chosen_times, real_traces, treated

from gramrise.domain.starting import TAUGHT

POOL_PERSONS = 40
REAL_ROUNDS, REAL_TREATMENTS = 4, 40
UNTREATED_PERSONS = 12
LEAST_INJECTED = 5  # used pairings of a band, below which the table speaks more than the injected rises
INJECTED, PLACEBO = "injection into real traces", "placebo on complete logs"


@dataclass
class Run:
    persons: int
    days: int
    seeds: tuple[int, ...]
    physiologies: tuple[str, ...]
    with_pool: bool
    say: Callable[[str], None] = print
    ours: Settings = field(default_factory=settings)


def main() -> None:
    run, out = _asked()
    begun = time.monotonic()
    bars: list[Bar] = []

    def so_far(done: str) -> str:
        seeds = ",".join(map(str, run.seeds))
        head = f"persons {run.persons} a physiology, {run.days} days, seeds {seeds}, {done}"
        table = text_table(f"{head}, {time.monotonic() - begun:.0f} s", bars)
        if out is not None:
            out.write_text(table + "\n", "utf-8")
        return table

    for physiology in run.physiologies:
        made = list(parts(physiology, run.persons, run.seeds, run.days))
        for logged in (True, False):
            bars += _cohort_bars(run, made, physiology, logged)
            so_far(f"begun: {physiology}")
        if physiology == "first":
            bars.append(_untreated_bar(run, made))
    bars += _real_bars(run)
    run.say(so_far("whole"))


def _asked() -> tuple[Run, Path | None]:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--persons", type=int, default=48)
    asked.add_argument("--days", type=int, default=DAYS)
    asked.add_argument("--seeds", default="1,2,3")
    asked.add_argument("--full", action="store_true")
    asked.add_argument("--physiology", default="first,second,third")
    asked.add_argument("--no-pool", action="store_true", help="leave out the comparison of one family with a pool")
    asked.add_argument("--out", type=Path)
    given = asked.parse_args()
    seeds = tuple(range(1, 13)) if given.full else tuple(int(s) for s in given.seeds.split(","))
    persons = 204 if given.full else given.persons
    return Run(persons, given.days, seeds, tuple(given.physiology.split(",")), not given.no_pool), given.out


def _cohort_bars(run: Run, made: list[Part], physiology: str, logged: bool) -> list[Bar]:
    people = [(inputs if logged else without_insulin(inputs), part) for part in made for inputs in part.made.inputs]
    alone = _cells(people, run.ours)
    of_pool: list[Cell] | None = None
    if run.with_pool:
        of_pool = _cells(people, pooled([inputs for inputs, _ in people[:POOL_PERSONS]], run.ours))
    return bars_of_cells(f"{physiology}, insulin {'logged' if logged else 'not logged'}", logged, alone, of_pool)


def _cells(people: list[tuple], ours: Settings) -> list[Cell]:
    return [
        cell for inputs, part in people for cell in cells_of(inputs, *_truth_of(part, inputs.person.person_id), ours)
    ]


def _truth_of(part: Part, person_id: str) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The person's true bands and true treatments."""
    its = pl.col("person_id") == person_id
    return part.made.truth_bands.filter(its), part.made.truth.filter(its)


def _untreated_bar(run: Run, made: list[Part]) -> Bar:
    people = [(inputs, part) for part in made for inputs in part.made.inputs][:UNTREATED_PERSONS]
    moved = []
    for inputs, part in people:
        before = _by_band(estimated_of(inputs, run.ours)[0].factors)
        after = _by_band(estimated_of(with_untreated_lows(inputs, part.made, part.seed), run.ours)[0].factors)
        moved += [np.log(after[band] / before[band]) for band in before]
    shift = 100 * (np.exp(np.mean(moved)) - 1)
    return Bar("20 untreated lows added", "mean factor moves", f"{shift:+.1f} %", "< 3 %", abs(shift) < 3, len(moved))


def _by_band(factors: pl.DataFrame) -> dict[str, float]:
    return dict(factors.select("band", "factor_mg_dl_per_g").iter_rows())


def _real_bars(run: Run) -> list[Bar]:
    traces = real_traces()
    if not traces:
        gone = "GRAMRISE_OUTSIDE_DATA not set"
        return [
            Bar(INJECTED, "bias", gone, "<= 5 %", None, 0),
            Bar(PLACEBO, "pooled factor", gone, "+/- 10 %", None, 0),
        ]
    rises, placebos = Rises(), Placebos()
    for number, trace in enumerate(traces):
        for turn in range(REAL_ROUNDS):
            rng = np.random.default_rng([55, number, turn])
            times = chosen_times(trace, rng, REAL_TREATMENTS)
            day, night = np.exp(np.log(245.0) + 0.35 * rng.standard_normal() + 0.28 * rng.standard_normal(2))
            inputs, truth = treated(trace, times, (float(day), float(night)), rng)
            rises.add(estimated_of(inputs, run.ours)[0].factors, truth)
            if trace.complete_log:
                inputs, _ = treated(trace, times, (0.0, 0.0), rng)
                placebos.add(estimated_of(inputs, run.ours)[0].pairings, TAUGHT.k_mg_dl_kg_per_g / trace.kg)
    return [*rises.bars(), placebos.bar()]


@dataclass
class Rises:
    """Injected rises: log of estimated over true, and whether the interval holds the truth, a band a number."""

    logs: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)

    def add(self, factors: pl.DataFrame, truth: dict[str, float]) -> None:
        for row in factors.filter(pl.col("pairings_used") >= LEAST_INJECTED).iter_rows(named=True):
            true = truth[row["band"]]
            self.logs.append(float(np.log(row["factor_mg_dl_per_g"] / true)))
            self.inside.append(row["p05_factor_mg_dl_per_g"] <= true <= row["p95_factor_mg_dl_per_g"])

    def bars(self) -> list[Bar]:
        n = len(self.logs)
        bias, share = 100 * (np.exp(np.mean(self.logs)) - 1), 100 * float(np.mean(self.inside))
        text = f"{bias:+.1f} % (se {100 * np.std(self.logs) / np.sqrt(n):.1f})"
        error = f"{100 * np.mean(np.abs(np.expm1(self.logs))):.1f} %"
        return [
            Bar(INJECTED, "bias", text, "<= 5 %", abs(bias) <= 5, n),
            Bar(INJECTED, "90 % intervals cover", f"{share:.0f} %", "85-95 %", 85 <= share <= 95, n),
            Bar(INJECTED, "mean absolute error", error, "", None, n),
        ]


@dataclass
class Placebos:
    """Single treatments of nothing: own factor over the table's, with its weight."""

    ratios: list[float] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)

    def add(self, pairings: pl.DataFrame, table: float) -> None:
        used = pairings.filter(pl.col("verdict") == "used").drop_nulls("factor_mg_dl_per_g")
        self.ratios += (used["factor_mg_dl_per_g"] / table).to_list()
        self.weights += ((used["factor_sd_mg_dl_per_g"] / table) ** -2).to_list()

    def bar(self) -> Bar:
        # The weightiest tenth counts no more than the next: a single sure one must not be the whole answer.
        w, ratios = np.minimum(self.weights, np.quantile(self.weights, 0.9)), np.array(self.ratios)
        middle = float(np.average(ratios, weights=w))
        doubt = float(np.sqrt(np.average((ratios - middle) ** 2, weights=w) / ratios.size))
        text = f"{100 * middle:+.1f} % (se {100 * doubt:.1f})"
        return Bar(PLACEBO, "pooled factor / table", text, "+/- 10 %", abs(middle) <= 0.10, ratios.size)


if __name__ == "__main__":
    main()
