"""What a family gives, stated anew: a statement holds on until another one about the same source."""

import re
from datetime import date

from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Source

_HALF = re.compile(r"\b(?:half|halves|halbe?[nrs]?|demie?|medi[ao]|mezz[ao])\b", re.IGNORECASE)
Sources = Dated[tuple[Source, ...]]


def with_source(sources: Sources, stated: Source, day: date) -> Sources:
    """The sources with one stated from `day` on; what was stated of it for a later day stands from that day on.

    Raises WrongUse for a new name that counts: in '3 D4' or '2 half tab' nobody knows which number is the amount.
    """
    known = {name for _, held in sources.entries for one in held for name in one.names}
    counting = next((name for name in stated.names if name not in known and _counts(name)), None)
    if counting is not None:
        raise WrongUse(
            f"the name '{counting}' has a number in it, which would be read as an amount",
            "call it without the number, as night gel; how strong it is stands beside it",
        )
    return _until_stated_anew(sources, stated.name, day, (stated,))


def unstated_from(sources: Sources, name: str, day: date) -> Sources:
    """The sources without what was stated of one until `day`; what is stated of it for a later day stands from then."""
    return _until_stated_anew(sources, name, day, ())


def _until_stated_anew(sources: Sources, name: str, day: date, instead: tuple[Source, ...]) -> Sources:
    """The sources with others in the place of one, from `day` until something else was stated of it."""
    before = _named(sources.on(day), name)
    entries = dict(sources.entries)
    entries.setdefault(day, sources.on(day) or ())
    for at in sorted(entries):
        if at < day:
            continue
        if at > day and _named(entries[at], name) != before:
            break
        entries[at] = (*(kept for kept in entries[at] if kept.name != name), *instead)
    return Dated(tuple(entries.items()))


def without_source(sources: Sources, name: str, day: date | None) -> Sources:
    """The sources without one, from `day` on or at any time. Raises WrongUse where none is called so."""
    if all(_named(held, name) is None for _, held in sources.entries):
        known = sorted({source.name for _, held in sources.entries for source in held})
        raise WrongUse(f"no source is called '{name}'", f"one of: {', '.join(known) or 'none is stated yet'}")
    entries = dict(sources.entries)
    if day is not None:
        entries.setdefault(day, sources.on(day) or ())
    return Dated(
        tuple(
            (at, held if day is not None and at < day else tuple(kept for kept in held if kept.name != name))
            for at, held in entries.items()
        )
    )


def _counts(name: str) -> bool:
    return any(map(str.isnumeric, name)) or bool(_HALF.search(name))


def _named(held: tuple[Source, ...] | None, name: str) -> Source | None:
    return next((source for source in held or () if source.name == name), None)
