"""Mixing a bottle: the recipe wanted, its steps as on the step sheet, the scale's check, and the batch logged."""

from dataclasses import replace
from typing import Final

from starlette.responses import Response

from gramrise.domain.mixtures import Mixture, Powder, WaterBy
from gramrise.domain.problems import WrongUse
from gramrise.nightly import log_batch
from gramrise.report import mixing_face, mixing_view
from gramrise.supplies import Recipe, SuppliesSettings, recipe_for, refuse_too_strong, supplies_settings, weight_check
from gramrise.web.views.found import holding, turned
from gramrise.web.visit import FAMILY, Door, Visit

# Our choice: a scoop more or less is a choice, a fifth is a slip of the hand or of a digit.
FAR: Final = 0.2


def show(visit: Visit) -> Response:
    """Which bottle, which powder, how strong, how much."""
    batches = visit.store.supplies.batches(visit.person.person_id)
    return visit.shown("mix.html", names=list(dict.fromkeys(each.source for each in reversed(batches))))


def steps(visit: Visit) -> Response:
    """The steps of the recipe wanted, and a form for what was really weighed in."""
    rules = supplies_settings(visit.page.home)
    grams_in_5_ml, ml = visit.positive_number("grams_in_5_ml"), visit.positive_number("ml")
    recipe = recipe_for(grams_in_5_ml / 5, ml, _powder(visit), rules)
    face = mixing_face(mixing_view(visit.person, _name(visit), recipe, rules))
    return visit.shown("mix_steps.html", face=face, recipe=recipe, name=_name(visit))


def keep(visit: Visit) -> Response:
    """Logs what was mixed. A weight that contradicts it leaves the strength unknown, and says so."""
    rules = supplies_settings(visit.page.home)
    mixture = Mixture(
        _powder(visit), visit.positive_number("powder_g"), WaterBy.MADE_UP_TO, visit.positive_number("ml")
    )
    refuse_too_strong(Recipe.of(mixture).solution.strength_g_per_ml, rules)
    if visit.form.get("weighed_g", "").strip():
        mixture = replace(mixture, weighed_g=visit.positive_number("weighed_g"))
    elif _far_from_recipe(visit, mixture):
        grams = visit.words.number(visit.positive_number("recipe_g"))
        raise WrongUse(visit.say("slip.powder_far", grams=grams), visit.say("mend.powder_far"))
    at = visit.now_utc.replace(second=0, microsecond=0)
    before = holding(visit)
    batch = log_batch(visit.store, visit.person, _name(visit), mixture, at, visit.now_utc, rules)
    return visit.back("/mix", _told(visit, batch.number, mixture, rules), turned(visit, before))


def _told(visit: Visit, number: int, mixture: Mixture, rules: SuppliesSettings) -> str:
    check = weight_check(mixture, rules)
    if check is not None and not check.passed:
        weights = {"weighed": visit.words.number(check.weighed_g), "expected": visit.words.number(check.expected_g)}
        return visit.say("mixed.off", number=number, **weights)
    code = "not_weighed" if check is None else "agrees"
    told = visit.say(f"mixed.{code}", number=number, days=rules.days_kept_cold)
    in_10_ml = 10 * Recipe.of(mixture).solution.strength_g_per_ml
    return f"{told} {visit.say('mixed.strength', grams=visit.words.number(in_10_ml, 2))}"


def _far_from_recipe(visit: Visit, mixture: Mixture) -> bool:
    """The powder is far from that of the recipe shown before: a slip of a digit, unless the scale agrees."""
    if not visit.form.get("recipe_g", "").strip():
        return False
    wanted = visit.positive_number("recipe_g") * mixture.ml / visit.positive_number("recipe_ml")
    return not 1 - FAR < mixture.powder_g / wanted < 1 + FAR


def _name(visit: Visit) -> str:
    name = " ".join((visit.form.get("new_name", "").strip() or visit.form.get("name", "")).split())[:60]
    if not name:
        raise WrongUse(visit.say("slip.bottle"), visit.say("mend.bottle"))
    return name


def _powder(visit: Visit) -> Powder:
    """The powder's form. There is no default: a wrong guess would make every amount 9 % too weak."""
    try:
        return Powder(visit.form.get("powder", ""))
    except ValueError as problem:
        raise WrongUse(visit.say("slip.powder"), visit.say("mend.powder")) from problem


DOORS: Final = (
    Door("/mix", show, FAMILY),
    Door("/mix", steps, FAMILY, ("POST",)),
    Door("/mix/logged", keep, FAMILY, ("POST",)),
)
