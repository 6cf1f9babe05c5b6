"""A batch that was mixed and a tin that was counted, logged by the same rules from terminal and page."""

from dataclasses import replace
from datetime import UTC, datetime, time
from difflib import get_close_matches
from typing import Final

from gramrise.domain.counts import ContainerCount
from gramrise.domain.mixtures import MixedBatch, Mixture
from gramrise.domain.person import Person, zone_on
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs
from gramrise.domain.stated_sources import unstated_from, with_source
from gramrise.store import Store
from gramrise.supplies import SuppliesSettings, trusted_strength

# Our choice: 'scool tin' is 0.95 like 'school tin', 'bag a' is 0.8 like 'bag b'.
NEARLY_THE_SAME: Final = 0.85


def log_batch(
    store: Store,
    person: Person,
    name: str,
    mixture: Mixture,
    mixed_at_utc: datetime,
    now_utc: datetime,
    rules: SuppliesSettings,
) -> MixedBatch:
    """Logs a batch and states its strength as that of its source from its day on; a weight that is off states none."""
    strength = trusted_strength(mixture, rules)
    stated = with_strength(person, name, mixed_at_utc, strength)
    return store.supplies.keep_batch(
        person.person_id, name, mixed_at_utc, mixture, strength, now_utc=now_utc, stated=stated
    )


def with_strength(person: Person, name: str, mixed_at_utc: datetime, strength_g_per_ml: float | None) -> Person:
    """The person whose source has the batch's strength from its local day on, so that cards and logs know it.

    Where nobody knows the batch's strength, nothing is stated of its source from then on: no card, no grams.
    """
    day = mixed_at_utc.astimezone(zone_on(person.zone, mixed_at_utc)).date()
    if strength_g_per_ml is None:
        return replace(person, sources=unstated_from(person.sources, name, day))
    known = next((source for source in person.sources.on_or_first(day) or () if source.name == name), None)
    stated = Source(
        name=name,
        form=Form.LIQUID,
        grams_per_ml=strength_g_per_ml,
        stated_as=StatedAs.ANHYDROUS,
        sealed=False,
        other_names=known.other_names if known else (),
    )
    return replace(person, sources=with_source(person.sources, stated, day))


def last_count(store: Store, person_id: str, container: str, before_utc: datetime) -> ContainerCount | None:
    """The latest count of a container before an instant."""
    counts = store.supplies.counts(person_id)
    before = [each for each in counts if each.container == container and each.to_utc < before_utc]
    return before[-1] if before else None


def count_of(
    store: Store,
    person: Person,
    container: str,
    pieces_left: int,
    to_utc: datetime,
    *,
    pieces_filled: int | None = None,
    source: str | None = None,
    from_utc: datetime | None = None,
) -> ContainerCount:
    """A count made of what was told: the rest as last time, else since the midnight before.

    raises  WrongUse where nobody knows how many were put in, or which pieces they are; or for a new tin whose name is
            nearly that of a known one
    """
    last = last_count(store, person.person_id, container, to_utc)
    _refuse_other_name(store, person.person_id, container)
    if pieces_filled is None and last is None:
        raise WrongUse(
            f"'{container}' was never counted", "say how many pieces were put in: --filled 20", "never_counted"
        )
    if pieces_filled is None:
        pieces_filled = last.pieces_left if last is not None else 0
    return ContainerCount(
        person_id=person.person_id,
        container=container,
        source=_pieces(person, source, last),
        from_utc=from_utc or (last.to_utc if last is not None else _midnight_before(person, to_utc)),
        to_utc=to_utc,
        pieces_filled=pieces_filled,
        pieces_left=pieces_left,
    )


def _refuse_other_name(store: Store, person_id: str, container: str) -> None:
    known = {each.container.casefold(): each.container for each in store.supplies.counts(person_id)}
    if container in known.values():
        return
    near = get_close_matches(container.casefold(), known, n=1, cutoff=NEARLY_THE_SAME)
    numbered = near and [each for each in near[0] if each.isdigit()] != [each for each in container if each.isdigit()]
    if near and not numbered:
        raise WrongUse(
            f"no tin is called '{container}' yet, and one is called '{known[near[0]]}'",
            "write its name so; give another tin a name that cannot be mistaken for it",
            "nearly_known",
        )


def _pieces(person: Person, named: str | None, last: ContainerCount | None) -> str:
    """The source named, else that of the last count, else the only one in pieces. Raises WrongUse."""
    pieces = [each.name for each in person.sources_now() if each.unit is AmountUnit.PIECE]
    chosen = named or (last.source if last is not None else pieces[0] if len(pieces) == 1 else None)
    if chosen in pieces:
        return str(chosen)
    known = ", ".join(pieces) or "none is stated yet: gramrise person source"
    raise WrongUse(
        "which pieces are in it?" if chosen is None else f"'{chosen}' does not come in pieces",
        f"--source, one of: {known}",
        "which_pieces",
    )


def _midnight_before(person: Person, at_utc: datetime) -> datetime:
    zone = zone_on(person.zone, at_utc)
    return datetime.combine(at_utc.astimezone(zone).date(), time(), zone).astimezone(UTC)
