"""The care plan: what the care team has agreed with the family. It is typed in and printed, never computed."""

from dataclasses import dataclass, field
from datetime import date
from typing import Final

from gramrise.domain.dates import months_later, whole_years

# A plan is looked at anew after so many months; sooner while the body changes fast. DESIGN section 6, our choice.
PLAN_MONTHS: Final = 6
PLAN_MONTHS_FAST_GROWTH: Final = 3
FAST_GROWTH_UNDER_YEARS: Final = 6


@dataclass(frozen=True, slots=True)
class SchoolPlan:
    """What a school needs beyond the plan: one amount, who authorised it for which school year, staff and kit."""

    grams: float | None = None  # the one amount for a low, without conditions, g
    year_from: date | None = None
    year_until: date | None = None  # last day of the school year
    authorised_by_parent: str = ""
    authorised_on: date | None = None
    staff: tuple[str, ...] = ()  # trained, by name
    kit: str = ""  # what is in it and where it is
    kit_expires_on: date | None = None
    glucagon_where: str = ""  # at school: where the family keeps its own helps nobody there

    def __post_init__(self) -> None:
        object.__setattr__(self, "staff", _not_blank(self.staff))


@dataclass(frozen=True, slots=True)
class CarePlan:
    """One version of the plan. Amounts are grams of glucose; texts are the care team's own words."""

    standard_grams: float | None = None  # for a low at 54-69 mg/dL
    below_54_grams: float | None = None  # for a level below 54 mg/dL
    least_grams: float | None = None  # the least and the most for a first amount
    most_grams: float | None = None
    look_again_minutes: int | None = None
    second_grams: float | None = None
    early_grams_allowed: bool = False  # glucose at 70-79 mg/dL when falling
    early_grams: float | None = None  # and how much, where nothing of the person's own is known
    automated_grams: float | None = None  # for a low while an automated system runs
    contacts: tuple[str, ...] = ()
    call_when: str = ""
    glucagon: str = ""  # which, and how much
    glucagon_where: str = ""
    vomiting: str = ""
    sport: str = ""
    illness: str = ""
    in_puberty: bool = False
    approved_by: str = ""
    approved_role: str = ""
    approved_on: date | None = None
    valid_until: date | None = None
    school: SchoolPlan = field(default_factory=SchoolPlan)

    def __post_init__(self) -> None:
        object.__setattr__(self, "contacts", _not_blank(self.contacts))

    @property
    def first_grams(self) -> tuple[float, ...]:
        """The plan's own amounts for readings from 54 mg/dL up."""
        stated = (self.standard_grams, self.early_grams, self.automated_grams)
        return tuple(grams for grams in stated if grams is not None)


def _not_blank(lines: tuple[str, ...]) -> tuple[str, ...]:
    """The lines in which something stands: nobody can call an empty one."""
    return tuple(line for line in lines if line.strip())


def has_number(contact: str) -> bool:
    """Whether a contact names a number to call: a figure that stands in no mail address."""
    return any(mark.isdigit() for word in contact.split() if "@" not in word for mark in word)


def valid_until_at_most(born: date, in_puberty: bool, approved_on: date) -> date:
    """The last day on which a plan approved that day may still be used."""
    fast = in_puberty or whole_years(born, approved_on) < FAST_GROWTH_UNDER_YEARS
    return months_later(approved_on, PLAN_MONTHS_FAST_GROWTH if fast else PLAN_MONTHS)


def last_day_of(plan: CarePlan, born: date, begins: date) -> date:
    """The last day of a plan: as stated, and never later than its months after the approval allow.

    begins  the day from which it was written down; counts where the day of approval is not known
    """
    latest = valid_until_at_most(born, plan.in_puberty, plan.approved_on or begins)
    return latest if plan.valid_until is None else min(plan.valid_until, latest)


# Our choice: outside a quarter to three times the guideline's 0.3 g/kg (ISPAD 2022) a slip is likelier than a plan;
# what is enough for a child of 50 kg is no slip for anybody heavier.
LEAST_GRAMS_PER_KG: Final = 0.075
MOST_GRAMS_PER_KG: Final = 1.0
LEAST_GRAMS_COUNT_TO_KG: Final = 50.0


def contradictions(plan: CarePlan, weight_kg: float | None = None) -> tuple[str, ...]:
    """What in the plan cannot be meant and must be asked: keys `on_card.withheld.*` of the card's words.

    weight_kg   the latest weighing that counts; None: amounts are not held against the weight
    """
    below, least, most = plan.below_54_grams, plan.least_grams, plan.most_grams
    standard, second, early = plan.standard_grams, plan.second_grams, plan.early_grams
    stated = (*plan.first_grams, *(grams for grams in (below, second) if grams is not None))
    asked = {
        "plan_less_below_54": below is not None and any(below < grams for grams in plan.first_grams),
        "plan_limits_crossed": (least is not None and most is not None and least > most)
        or (most is not None and any(grams > most for grams in plan.first_grams))
        or (most is not None and second is not None and second > max(most, below or most))
        or (least is not None and standard is not None and standard < least)
        or (early is not None and standard is not None and early > standard),
        "plan_far_from_weight": weight_kg is not None
        and any(
            grams < LEAST_GRAMS_PER_KG * min(weight_kg, LEAST_GRAMS_COUNT_TO_KG)
            or grams > MOST_GRAMS_PER_KG * weight_kg
            for grams in stated
        ),
    }
    return tuple(code for code, holds in asked.items() if holds)
