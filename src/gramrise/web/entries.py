"""An entry of the page as a batch: a touched amount, or words read as `give` reads them."""

import hashlib
import re
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import polars as pl

from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES, EVENTS
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit
from gramrise.domain.words import EventKind
from gramrise.intake import load_settings, load_words, read_note
from gramrise.web.clocks_apart import at_meant, words_meant

if TYPE_CHECKING:
    from gramrise.web.visit import Visit

NOTICED: Final = ("child", "sensor", "adult")
GIVE: Final = "give"
_IDENTITY: Final = re.compile(r"[0-9a-f-]{16,64}")


def entry_of(visit: "Visit") -> str:
    """The identity that the phone gave to the entry. Raises WrongUse for a form without one, or of another child."""
    if visit.form.get("whose", "") != visit.whose:  # a phone's list of children may have changed while it waited
        raise WrongUse(visit.say("slip.whose"), visit.say("mend.whose"))
    found = visit.form.get("entry", "")
    if not _IDENTITY.fullmatch(found):
        raise WrongUse(visit.say("slip.entry"), visit.say("mend.again"))
    return found


def waited_seconds(visit: "Visit") -> float:
    """How long the entry waited on its phone: the phone's clock may be wrong, its stopwatch is not."""
    try:
        waited = float(visit.form.get("waited") or 0)
    except ValueError:
        waited = -1.0
    if not 0 <= waited <= visit.page.settings.oldest_entry_days * 86_400:
        raise WrongUse(visit.say("slip.waited"), visit.say("mend.again"))
    return waited


def taken_at(visit: "Visit") -> datetime:
    """The instant meant: so many minutes before the touch, or a time on the clock. Raises WrongUse."""
    touched = (visit.now_utc - timedelta(seconds=waited_seconds(visit))).replace(second=0, microsecond=0)
    minutes = "at" if two_times(visit) and not somebody_is_there(visit) else visit.form.get("minutes", "0")
    if minutes == "at" and not visit.form.get("at", "").strip():
        raise WrongUse(visit.say("slip.no_time"), visit.say("mend.no_time"))
    if minutes == "at":
        return at_meant(visit, visit.form["at"].strip(), touched)
    if minutes not in {"0", "5", "10", "20"}:
        raise WrongUse(visit.say("slip.minutes"), visit.say("mend.again"))
    return touched - timedelta(minutes=int(minutes))


def somebody_is_there(visit: "Visit") -> bool:
    """Whether whoever touched it still looks at the phone, and can answer."""
    return waited_seconds(visit) < visit.page.settings.ask_within_seconds


def two_times(visit: "Visit") -> bool:
    """A time was written and another touched: Enter in the field of the time touches the first of the buttons.

    While somebody is there they are asked which is meant; of an entry that waited the written one is.
    """
    form = visit.form
    return bool(form.get("at", "").strip()) and form.get("minutes", "0") != "at" and "time_meant" not in form


def batch_of(visit: "Visit", entry: str, taken_at_utc: datetime) -> Batch:
    """The entry as a batch whose content hash is the entry's own. Raises WrongUse for what is no amount."""
    noticed = visit.form.get("noticed", "")
    noticed = noticed if noticed in NOTICED else ""
    said = visit.form.get("words", "").strip()[:500]
    batch = _spoken(visit, said, taken_at_utc, noticed) if said else _touched(visit, taken_at_utc, noticed)
    return replace(batch, content_hash=_identity(entry))


def beside_of(visit: "Visit", entry: str, taken_at_utc: datetime) -> Batch:
    """Food, or that a low was felt, as a batch. Raises WrongUse for grams that no meal has, and for anything else."""
    kind, text = visit.form.get("kind", ""), " ".join(visit.form.get("text", "").split())[:100]
    if kind == "felt_low":
        return _noted(visit, entry, taken_at_utc, EventKind.NOTE, None, visit.say("beside.felt_low"))
    if kind != EventKind.FOOD.value:
        raise WrongUse(visit.say("slip.kind"), visit.say("mend.again"))
    grams = visit.positive_number("grams") if visit.form.get("grams", "").strip() else None
    if grams is not None and grams > visit.page.settings.most_food_grams:
        raise WrongUse(visit.say("slip.grams"), visit.say("mend.grams"))
    return _noted(visit, entry, taken_at_utc, EventKind.FOOD, grams, text)


def _noted(visit: "Visit", entry: str, at_utc: datetime, kind: EventKind, amount: float | None, text: str) -> Batch:
    row = {
        "person_id": visit.person.person_id,
        "at_utc": at_utc,
        "until_utc": None,
        "kind": kind.value,
        "amount": amount,
        "text": text,
    }
    return Batch(
        person_id=visit.person.person_id,
        file=GIVE,
        content_hash=_identity(entry),
        layout=GIVE,
        rows_offered=1,
        events=pl.DataFrame([row], schema=EVENTS.schema, orient="row"),
    )


def _identity(entry: str) -> str:
    return hashlib.sha256(f"page {entry}".encode()).hexdigest()


def _spoken(visit: "Visit", said: str, taken_at_utc: datetime, noticed: str) -> Batch:
    home, touched = visit.page.home, visit.now_utc - timedelta(seconds=waited_seconds(visit))
    text, told_at = words_meant(visit, said, touched)
    batch = read_note(
        text,
        told_at or taken_at_utc,
        visit.person,
        now_utc=visit.now_utc,
        settings=load_settings(home),
        words=load_words(home),
        noticed=noticed,
        household=tuple(visit.store.persons()),
    )
    if batch.quarantine:
        trouble = batch.quarantine[0].trouble
        raise WrongUse(trouble.what, trouble.mend)
    if batch.doses.height == 0 and batch.events.height == 0:
        raise WrongUse(visit.say("slip.words"), visit.say("mend.words"))
    return batch


def _touched(visit: "Visit", taken_at_utc: datetime, noticed: str) -> Batch:
    unit, _, rest = visit.form.get("amount", "").partition(":")
    number, _, name = rest.partition(":")
    source = next((each for each in visit.person.sources_now() if each.name == name), None)
    if source is None or source.unit.value != unit or not re.fullmatch(r"\d{1,3}", number) or int(number) == 0:
        raise WrongUse(visit.say("slip.amount"), visit.say("mend.amount"))
    amount = float(number)
    row = {
        "person_id": visit.person.person_id,
        "taken_at_utc": taken_at_utc,
        "source": source.name,
        "ordinal": 1,
        "form": source.form.value,
        "amount": amount,
        "amount_unit": unit,
        "grams": source.grams(amount, AmountUnit(unit)),
        "may_be_weaker": source.may_be_weaker,
        "remarks": [],
        "origin": GIVE,
        "noticed": noticed,
    }
    return Batch(
        person_id=visit.person.person_id,
        file=GIVE,
        content_hash="",
        layout=GIVE,
        rows_offered=1,
        doses=pl.DataFrame([row], schema=DOSES.schema, orient="row"),
    )
