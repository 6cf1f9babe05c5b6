"""Emergency, whom to call, where the glucagon is, and the card that holds: kept on the phone, without network too."""

from typing import Final

from starlette.responses import Response

from gramrise.config.settings import load
from gramrise.domain.care_plan import CarePlan
from gramrise.nightly import cards_out
from gramrise.report import CardSettings, CardView, face_of
from gramrise.web.views.amounts import plan_amount
from gramrise.web.views.contacts import called
from gramrise.web.visit import LOGS, Door, Visit


def show(visit: Visit) -> Response:
    """The help screen."""
    words, plan = visit.words, visit.person.care_plan.latest()
    call = load("card", CardSettings, visit.page.home).emergency_number or words.say("on_card.emergency.local_number")
    emergency = [words.say("on_card.emergency.cannot_swallow", call=call)]
    if plan is not None and plan.glucagon:
        emergency.append(words.say("on_card.glucagon_which", which=plan.glucagon))
    if plan is not None and plan.glucagon_where:
        emergency.append(words.say("on_card.glucagon", where=plan.glucagon_where))
    if plan is not None and plan.school.glucagon_where:
        emergency.append(words.say("on_card.glucagon_at_school", where=plan.school.glucagon_where))
    holding = {card.number for card in cards_out(visit.store, visit.person, visit.now_utc) if card.holds}
    kept = visit.store.cards_of(visit.person.person_id)
    cards = [face_of(CardView.model_validate_json(card.view)) for card in kept if card.number in holding]
    told = {"emergency": emergency, "contacts": called(plan.contacts if plan else ()), "cards": cards}
    return visit.shown("help.html", **told, plan=() if cards or plan is None else _plan(visit, plan))


def _plan(visit: Visit, plan: CarePlan) -> tuple[str, ...]:
    """The care plan's own amounts, in each source's pieces or mL: what to follow while no card holds."""
    stated = []
    for code, grams in (("plan_first", plan.standard_grams), ("plan_below_54", plan.below_54_grams)):
        if grams is not None:
            ways = dict.fromkeys(plan_amount(visit, grams, source) for source in visit.person.sources_now())
            amount = "; ".join(ways) or plan_amount(visit, grams, None)
            named = {"level": visit.words.level(54)} if code == "plan_below_54" else {}
            stated.append(visit.say(code, amount=amount, **named))
    if plan.call_when:
        stated.append(visit.words.say("on_card.call_when", when=plan.call_when))
    return tuple(stated)


DOORS: Final = (Door("/help", show, LOGS, idles=False),)
