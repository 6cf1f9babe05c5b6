"""All ways to lay whole pieces on the recoveries of an interval, each with its probability; exact."""

from dataclasses import dataclass
from math import exp, log

Evidence = list[float]  # of one recovery: log probability of 0, 1, 2 ... pieces there


@dataclass(frozen=True, slots=True)
class Laying:
    """One way: pieces at each recovery, in their order, and pieces that are at none of them."""

    pieces: tuple[int, ...]
    elsewhere: int
    probability: float


@dataclass(frozen=True, slots=True)
class Laid:
    """The posterior over all layings: the most probable ones, and sums over every one of them."""

    layings: tuple[Laying, ...]  # most probable first; the one with every piece elsewhere is always among them
    expected_pieces: tuple[float, ...]  # at each recovery, over all layings
    ways: int  # how many layings there are


def lay(pieces: int, evidence: list[Evidence], elsewhere: Evidence, most: int) -> Laid:
    """Lays `pieces` on recoveries; each laying keeps the total.

    evidence   one list a recovery, each of at least pieces + 1 values
    elsewhere  the price of 0, 1, 2 ... pieces at no recovery, in the same terms
    most       layings that are returned; sums are over all of them whatever it is
    """
    everywhere = [elsewhere, *evidence]
    best = _best(pieces, everywhere, most)
    total = _log_sum(everywhere, pieces)
    layings = [Laying(way[1:], way[0], min(1.0, exp(weight - total))) for weight, way in best]
    unplaced = exp(everywhere[0][pieces] + sum(each[0] for each in evidence) - total)
    none = Laying((0,) * len(evidence), pieces, min(1.0, unplaced))
    if none.pieces not in [laying.pieces for laying in layings]:
        layings = [*layings[: most - 1], none]
    expected = tuple(_expected(nth, everywhere, pieces, total) for nth in range(1, len(everywhere)))
    return Laid(tuple(layings), expected, ways_to_lay(pieces, len(everywhere)))


def ways_to_lay(pieces: int, places: int) -> int:
    """How many layings there are over so many places."""
    ways = [1, *[0] * pieces]
    for _ in range(places):
        for n in range(1, pieces + 1):
            ways[n] += ways[n - 1]
    return ways[pieces]


def _best(pieces: int, places: list[Evidence], most: int) -> list[tuple[float, tuple[int, ...]]]:
    """The `most` heaviest ways. Exact: a way among the best has a beginning among the best of its own total."""
    begun: list[list[tuple[float, tuple[int, ...]]]] = [[(0.0, ())], *[[] for _ in range(pieces)]]
    for weights in places:
        longer: list[list[tuple[float, tuple[int, ...]]]] = []
        for total in range(pieces + 1):
            ways = [
                (weight + weights[here], (*way, here))
                for here in range(total + 1)
                for weight, way in begun[total - here]
            ]
            longer.append(sorted(ways, key=lambda each: (-each[0], each[1]))[:most])
        begun = longer
    return begun[pieces]


def _log_sum(places: list[Evidence], pieces: int) -> float:
    """Log of the summed weights of all ways."""
    shifts = [max(weights[: pieces + 1]) for weights in places]
    sums = [1.0, *[0.0] * pieces]
    for weights, shift in zip(places, shifts, strict=True):
        sums = _joined(sums, [exp(w - shift) for w in weights[: pieces + 1]])
    return log(sums[pieces]) + sum(shifts)


def _joined(one: list[float], two: list[float]) -> list[float]:
    return [sum(one[n - here] * two[here] for here in range(n + 1)) for n in range(len(one))]


def _expected(nth: int, places: list[Evidence], pieces: int, total: float) -> float:
    """Expected pieces at one place."""
    others = [weights for at, weights in enumerate(places) if at != nth]
    return sum(n * exp(places[nth][n] + _log_sum(others, pieces - n) - total) for n in range(1, pieces + 1))
