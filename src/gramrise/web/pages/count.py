"""Counting what is left in a tin."""

from typing import Final

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit
from gramrise.nightly import ask_about_unlogged, count_of, placed_counts
from gramrise.report import count_row, counted_words
from gramrise.web.clocks_apart import at_meant
from gramrise.web.visit import FAMILY, Door, Visit

# So many counts are listed, the latest. Our choice: a fortnight of school days.
LISTED: Final = 10


def show(visit: Visit) -> Response:
    counts = visit.store.supplies.counts(visit.person.person_id)
    placed = placed_counts(visit.store, visit.person.person_id, visit.now_utc, visit.page.home)
    return visit.shown(
        "count.html",
        tins=list(dict.fromkeys(each.container for each in reversed(counts))),
        pieces=[each.name for each in visit.person.sources_now() if each.unit is AmountUnit.PIECE],
        told=[count_row(each, visit.person, visit.screens) for each in placed[::-1][:LISTED]],
    )


def keep(visit: Visit) -> Response:
    """Keeps a count; what it says against the log is then asked about."""
    tin = " ".join((visit.form.get("new_tin", "").strip() or visit.form.get("tin", "")).split())[:60]
    if not tin:
        raise WrongUse(visit.say("slip.tin"), visit.say("mend.tin"))
    filled, at = (visit.form.get(name, "").strip() for name in ("filled", "at"))
    now = visit.now_utc.replace(second=0, microsecond=0)
    try:
        made = count_of(
            visit.store,
            visit.person,
            tin,
            visit.whole_number("left"),
            at_meant(visit, at, now) if at else now,
            pieces_filled=visit.whole_number("filled") if filled else None,
            source=visit.form.get("source") or None,
        )
    except WrongUse as trouble:
        if trouble.code in {"never_counted", "which_pieces"}:
            raise WrongUse(visit.say(f"slip.{trouble.code}"), visit.say(f"mend.{trouble.code}")) from trouble
        raise
    changed = visit.store.supplies.keep_count(made, "page", visit.now_utc)
    ask_about_unlogged(visit.store, visit.person, visit.now_utc, visit.page.home)
    told = counted_words(made, visit.person, visit.screens)
    return visit.back("/count", told if changed else visit.say("known"))


DOORS: Final = (
    Door("/count", show, FAMILY),
    Door("/count", keep, FAMILY, ("POST",)),
)
