"""What every entry of the log goes through: known already, two times at once, and the answer when it is logged."""

from typing import TYPE_CHECKING, Final

from starlette.responses import Response

from gramrise.web.entries import somebody_is_there, two_times

if TYPE_CHECKING:
    from gramrise.store import Logged
    from gramrise.web.visit import Visit

# Fields of an entry that go along when something is asked about it first.
_KEPT: Final = ("amount", "words", "minutes", "at", "noticed", "kind", "grams", "text")


def kept(visit: "Visit") -> list[tuple[str, str]]:
    """The entry's own fields that were filled."""
    return [(name, visit.form[name]) for name in _KEPT if visit.form.get(name)]


def answered_before(visit: "Visit", entry: str, way: str) -> Response | None:
    """The answer to an entry that was pressed twice, or names two times while somebody is there; else None.

    way  the address below the person's own that takes the entry
    """
    if visit.store.phone_log.knows(visit.person.person_id, entry):
        return visit.data(200, logged=True, known=True) if visit.wants_json else visit.back("/", visit.say("known"))
    if not (two_times(visit) and somebody_is_there(visit)):
        return None
    if visit.wants_json:
        return visit.data(409, ask=True)
    minutes = visit.form.get("minutes", "0")
    touched = visit.say("now") if minutes == "0" else visit.say("ago", n=minutes)
    times = (("at", visit.form["at"].strip()[:20]), (minutes, touched))
    return visit.shown("which_time.html", 409, times=times, entry=entry, kept=kept(visit), way=way)


def told_logged(visit: "Visit", logged: "Logged", what: str) -> Response:
    """The answer to an entry that was logged, with what it was."""
    told = visit.say("asked" if logged.questions else "logged", what=what)
    if visit.wants_json:
        return visit.data(200, logged=True, known=logged.known, said=told)
    return visit.back("/", told)
