"""What a family gives, stated anew: a statement holds on until another one about the same source."""

from datetime import date

from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Source

Sources = Dated[tuple[Source, ...]]


def with_source(sources: Sources, stated: Source, day: date) -> Sources:
    """The sources with one stated from `day` on; what was stated of it for a later day stands from that day on."""
    before = _named(sources.on(day), stated.name)
    entries = dict(sources.entries)
    entries.setdefault(day, sources.on(day) or ())
    for at in sorted(entries):
        if at < day:
            continue
        if at > day and _named(entries[at], stated.name) != before:
            break
        entries[at] = (*(kept for kept in entries[at] if kept.name != stated.name), stated)
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


def _named(held: tuple[Source, ...] | None, name: str) -> Source | None:
    return next((source for source in held or () if source.name == name), None)
