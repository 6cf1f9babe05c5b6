"""Until when a card holds, where nothing ends it before."""

from datetime import date

from gramrise.domain.dates import months_later
from gramrise.report.card.numbers.view import PlanView, SchoolView
from gramrise.report.card.settings import CardSettings


def last_day_of_card(today: date, plan: PlanView, school: SchoolView | None, rules: CardSettings) -> date:
    """The last day of its months, of the plan, of the school year and of the kit, whichever comes first."""
    ends = [months_later(today, rules.valid_months)]
    if plan.valid_until is not None:
        ends.append(plan.valid_until)
    if school is not None:
        ends += [school.year_until, school.kit_expires_on]
    return max(today, min(ends))
