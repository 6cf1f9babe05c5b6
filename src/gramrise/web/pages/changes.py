"""The last changes of the log, and taking one of them back: a file, an answer, a count, a bottle, glucose given."""

from typing import Final

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.nightly import described, judge_weights_anew
from gramrise.report import local_time
from gramrise.store import FACTS, WEIGHING, Change
from gramrise.web.views.found import holding, turned
from gramrise.web.visit import FAMILY, Door, Visit

# Our choice: as many as two screens of a phone show.
LISTED: Final = 20
# What was stated is no slip of a thumb: the terminal takes it back, where it can be stated again.
STATED: Final = frozenset({FACTS, WEIGHING})


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
    """The last changes of the log: what was given, brought, answered, counted, mixed."""
    return visit.store.last_changes(visit.person.person_id, LISTED, without=STATED)


def take_back(visit: Visit) -> Response:
    """Takes back one of the changes listed, and nothing else."""
    wanted = visit.whole_number("change")
    listed = {each.change_id for each in _offered(visit)}
    if wanted not in listed:
        raise WrongUse(visit.say("slip.undo"), visit.say("mend.again"))
    before = holding(visit)
    change = visit.store.undo(wanted, visit.now_utc)
    judge_weights_anew(visit.store, visit.page.home, change.person_id, visit.now_utc)
    also = visit.say("stands_by") if change.stands_by else ""
    return visit.back("/changes", visit.say("undone_change"), also, turned(visit, before))


DOORS: Final = (
    Door("/changes", show, FAMILY),
    Door("/changes", take_back, FAMILY, ("POST",)),
)
