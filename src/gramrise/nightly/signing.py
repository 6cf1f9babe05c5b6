"""A clinician's sign-off: the number of a day with all that it rests on, recorded as the signed reference."""

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl

from gramrise.domain.care_plan import CarePlan
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.reasons import Verdict
from gramrise.domain.references import (
    EndedBy,
    SignedBand,
    SignedReference,
    ended_by,
    reference_ends,
    signed_sources,
)
from gramrise.estimate import weight_on
from gramrise.nightly.current import current_findings
from gramrise.nightly.one_person import findings_as_of
from gramrise.store import Store

if TYPE_CHECKING:
    from gramrise.domain.findings import Findings

PLAN_AMOUNTS = (
    "standard_grams", "below_54_grams", "least_grams", "most_grams", "second_grams", "early_grams", "automated_grams",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SignOff:
    """What a clinician says beside the number itself."""

    by: str
    role: str = ""
    accepted: bool = True
    as_of: date | None = None  # local date; None: today
    valid_until: date | None = None
    settings: str = ""
    told: str = ""
    note: str = ""


def sign_reference(
    store: Store, person_id: str, said: SignOff, now_utc: datetime, home: Path | None = None
) -> SignedReference:
    """Records a sign-off and returns it; it stands beside all earlier ones.

    raises  WrongUse for a day to come, for a day before the first treatment that counts, for a date of expiry that
            lies before the day, or where no body weight is known
    """
    person = store.person(person_id)
    today = now_utc.astimezone(person.zone_now()).date()
    as_of = said.as_of or today
    _check_days(person, as_of, said.valid_until, today)
    found = _found(store, person, as_of, today, now_utc, home)
    bands = _bands(person, found, as_of)
    if all(band.factor_mg_dl_per_g is None for band in bands) or found.pairings.is_empty():
        raise WrongUse(
            f"there is no number of {person_id} on {as_of.isoformat()} that could be signed",
            f"a weighing and at least one treatment up to that day are needed: gramrise factors --person {person_id}",
        )
    reference = SignedReference.model_validate(
        _stated(person, found, as_of)
        | {
            "number": store.next_reference_number(person_id),
            "signed_at_utc": now_utc,
            "signed_by": said.by,
            "role": said.role,
            "verdict": "accepted" if said.accepted else "seen_not_accepted",
            "bands": bands,
            "settings": said.settings,
            "valid_until": said.valid_until or reference_ends(person, as_of),
            "cards_superseded": _cards_out(store, person) if said.accepted else (),
            "told": said.told,
            "note": said.note,
        }
    )
    store.sign(reference)
    return reference


def references_with_ends(
    store: Store, person: Person, now_utc: datetime
) -> list[tuple[SignedReference, tuple[EndedBy, ...]]]:
    """All sign-offs of a person, the latest first, each with what has ended it; nothing: it holds."""
    today = now_utc.astimezone(person.zone_now()).date()
    weight_kg = weight_on(person, today)
    return [(one, ended_by(one, person, weight_kg, today)) for one in store.references_of(person.person_id)]


def _check_days(person: Person, as_of: date, valid_until: date | None, today: date) -> None:
    if as_of > today:
        raise WrongUse(f"{as_of.isoformat()} is still to come", "sign a day that has been: --as-of DATE")
    if as_of <= person.born:
        raise WrongUse(f"{as_of.isoformat()} is not after the day of birth", "sign a later day: --as-of DATE")
    if valid_until is not None and valid_until < max(as_of, today):
        raise WrongUse(f"{valid_until.isoformat()} has passed", "name a later day: --valid-until DATE, or leave it out")


def _found(store: Store, person: Person, as_of: date, today: date, now_utc: datetime, home: Path | None) -> "Findings":
    """The findings of a day by today's model; those of a past day know nothing that came after it."""
    if as_of == today:
        return current_findings(store, person.person_id, now_utc, home)
    ends = datetime.combine(as_of + timedelta(days=1), time(), person.zone_now()).astimezone(UTC)
    return findings_as_of(store, person.person_id, ends - timedelta(microseconds=1), home)


def _bands(person: Person, found: "Findings", as_of: date) -> tuple[SignedBand, ...]:
    hours = {band.name: band.hours for band in person.bands.on_or_first(as_of) or ()}
    names = SignedBand.model_fields.keys() - {"hours"}
    return tuple(
        SignedBand.model_validate({name: row[name] for name in names} | {"hours": hours.get(row["band"], "")})
        for row in found.factors.iter_rows(named=True)
    )


def _stated(person: Person, found: "Findings", as_of: date) -> dict[str, Any]:
    """What the number rests on that day."""
    known = Dated(tuple(each for each in person.weights_kg.entries if each[0] <= as_of))
    plan = person.care_plan.on(as_of) or CarePlan()
    plan_days = [day for day, _ in person.care_plan.entries if day <= as_of]
    used = found.pairings.filter(pl.col("verdict") == Verdict.USED)["first_dose_utc"]
    days = used.dt.convert_time_zone(person.zone_now().key).dt.date()
    aside = found.pairings.filter(pl.col("verdict") == Verdict.SET_ASIDE)
    delivery = person.delivery.on(as_of)
    return {
        "person_id": person.person_id,
        "as_of": as_of,
        "weight_kg": weight_on(person, as_of),
        "weighed_on": known.since(),
        "delivery": "" if delivery is None else str(delivery),
        "sources": signed_sources(person.sources.on(as_of) or ()),
        "data_from": days.min(),
        "data_to": days.max(),
        "set_aside": dict(Counter(reason for reasons in aside["reasons"].to_list() for reason in reasons)),
        "plan_version": plan_days[-1].isoformat() if plan_days else "",
        "plan_amounts": {name: value for name in PLAN_AMOUNTS if (value := getattr(plan, name)) is not None},
        "model_version": found.model_version,
    }


def _cards_out(store: Store, person: Person) -> tuple[int, ...]:
    """Cards that are out when the number is signed: they were made before it."""
    return tuple(card.number for card in store.cards_of(person.person_id) if card.gone_on is None)
