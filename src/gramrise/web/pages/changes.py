"""The last changes of the log, and taking one of them back: a file, an answer, a count, a bottle, glucose given."""

from typing import Final

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.nightly import described
from gramrise.report import local_time
from gramrise.store import Change
from gramrise.web.visit import FAMILY, Door, Visit

# Our choice: as many as two screens of a phone show.
LISTED: Final = 20
LOOKED_THROUGH: Final = 200
STATED: Final = frozenset({"facts", "weighing"})


def show(visit: Visit) -> Response:
    changes = _offered(visit)
    return visit.shown(
        "changes.html",
        changes=[
            {
                "number": each.change_id,
                "at": local_time(each.made_at_utc, visit.person),
                "what": described(each, visit.person, visit.screens),
                "stands": each.taken_back_at_utc is None,
            }
            for each in changes
        ],
    )


def _offered(visit: Visit) -> list[Change]:
    """The last changes of the log. What was stated (care plan, sources, weight) is no slip of a thumb: the terminal
    takes that back, where it can be stated again."""
    changes = visit.store.last_changes(visit.person.person_id, LOOKED_THROUGH)
    return [each for each in changes if each.kind not in STATED][:LISTED]


def take_back(visit: Visit) -> Response:
    """Takes back one of the changes listed, and nothing else."""
    wanted = visit.whole_number("change")
    listed = {each.change_id for each in _offered(visit)}
    if wanted not in listed:
        raise WrongUse(visit.say("slip.undo"), visit.say("mend.again"))
    visit.store.undo(wanted, visit.now_utc)
    return visit.back("/changes", visit.say("undone_change"))


DOORS: Final = (
    Door("/changes", show, FAMILY),
    Door("/changes", take_back, FAMILY, ("POST",)),
)
