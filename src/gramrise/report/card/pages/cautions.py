"""What stands beside the amounts: when the card does not hold, what to do after giving, help, and the cautions."""

from pydantic import BaseModel, ConfigDict

from gramrise.domain.dates import whole_years
from gramrise.report.card.numbers.view import CardView
from gramrise.report.card.numbers.void import weight_limits_kg
from gramrise.report.card.pages.amount_words import in_one
from gramrise.report.words import Words


class Note(BaseModel):
    """A heading and its lines."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    heading: str
    lines: tuple[str, ...]


class Notes(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    emergency: Note
    not_for: Note
    instead: str  # what to do then; "" on the school's card, which has no conditions
    then: Note
    asleep: Note
    contacts: Note  # without lines where nobody is stored
    sick: Note
    know: Note
    void: Note

    @property
    def all(self) -> tuple[Note, ...]:
        """In the order in which they are read; empty ones left out."""
        not_for = self.not_for.model_copy(update={"lines": (*self.not_for.lines, self.instead)})
        not_for = not_for if self.instead else self.not_for
        notes = (self.emergency, not_for, self.then, self.asleep, self.contacts, self.sick, self.know, self.void)
        return tuple(note for note in notes if note.lines)


def notes_of(view: CardView, words: Words) -> Notes:
    """All notes of one card."""

    def note(code: str, *lines: str) -> Note:
        return Note(heading=words.say(f"on_card.{code}_heading"), lines=tuple(line for line in lines if line))

    call = view.rules.emergency_number or words.say("on_card.emergency.local_number")
    plan, home = view.plan, not view.for_school
    call_when = words.say("on_card.call_when", when=plan.call_when) if plan.call_when else ""
    return Notes(
        emergency=note("emergency", words.say("on_card.emergency.cannot_swallow", call=call), *_glucagon(view, words)),
        not_for=note("not_for", *(_not_for(code, view, words) for code in view.not_for if home)),
        instead=_instead(view, words) if home else "",
        then=note("then", *_then(view, words)),
        asleep=note("asleep", words.say("on_card.asleep"), words.say("on_card.posture"), _hard_sweets(view, words)),
        contacts=note("contacts", *plan.contacts, call_when),
        sick=note("sick", words.say("on_card.vomiting"), plan.vomiting, *_own_words(view, words)),
        know=note("know", _aim(view, words), *(words.say(f"caution.{code}") for code in view.cautions)),
        void=note("void", _void(view, words)),
    )


def _glucagon(view: CardView, words: Words) -> tuple[str, ...]:
    plan = view.plan
    where = plan.glucagon_where if view.school is None else view.school.glucagon_where
    which = (words.say("on_card.glucagon_which", which=plan.glucagon),) if plan.glucagon else ()
    return (*which, words.say("on_card.glucagon", where=where)) if where else which


def _own_words(view: CardView, words: Words) -> tuple[str, ...]:
    """What the plan says of sport and illness in its own words."""
    plan = view.plan
    return tuple(
        words.say(f"on_card.plan_says.{code}", text=text)
        for code, text in (("sport", plan.sport), ("illness", plan.illness))
        if text
    )


def _not_for(code: str, view: CardView, words: Words) -> str:
    slope = words.slope(view.rules.most_fall_mg_dl_per_min)
    return words.say(f"on_card.not_for.{code}", slope=slope, hours=view.rules.insulin_hours)


def _instead(view: CardView, words: Words) -> str:
    """What to do where the card does not hold: never nothing."""
    if view.plan.standard is None:
        return words.say("on_card.instead.no_amount")
    return words.say("on_card.instead.amount", amount=in_one(view.plan.standard, view, words))


def _then(view: CardView, words: Words) -> tuple[str, ...]:
    """The second look and the plan's second amount; a card without them is withheld."""
    plan, safe = view.plan, words.level(view.rules.safe_level_mg_dl)
    if plan.look_again_minutes is None or plan.second is None:
        return (words.say("caution.look_again", level=safe),)
    second = in_one(plan.second, view, words)
    return (
        words.say("on_card.look", minutes=plan.look_again_minutes),
        words.say("on_card.second", level=safe, amount=second),
        words.say("on_card.get_help", level=safe),
    )


def _hard_sweets(view: CardView, words: Words) -> str:
    years = view.rules.hard_sweets_from_years
    young = whole_years(view.born, view.made_on) < years
    return words.say("on_card.hard_sweets", years=years) if young else ""


def _aim(view: CardView, words: Words) -> str:
    """What computed amounts and the printed range aim at; nothing where there are none."""
    if view.cap is None or not view.has_own_amounts:
        return ""
    limit = {"limit": words.grams(view.rules.most_grams_per_kg)} if view.cap.code == "weight" else {}
    aim = words.say(
        "on_card.target",
        target=words.level(view.target_mg_dl),
        chance=words.percent(view.rules.most_chance_below),
        safe=words.level(view.rules.safe_level_mg_dl),
        minutes=round(view.rules.safe_minutes),
        cap=words.grams(view.cap.grams),
        why=words.say(f"on_card.cap.{view.cap.code}", **limit),
    )
    share, expect = words.percent(view.rules.expect_share), round(view.rules.expect_minutes)
    capped = any(cell.look_again for row in view.rows for cell in row.cells)
    note = words.say("on_card.expect_note", share=share, expect=expect)
    said = [aim, words.say("on_card.capped") if capped else "", note]
    return " ".join(part for part in said if part)


def _void(view: CardView, words: Words) -> str:
    until = words.day(view.valid_until, "medium")
    if view.for_school:
        return words.say("on_card.void_when_school", until=until)
    if view.weight_kg is None:
        return words.say("on_card.void_when_no_weight", until=until)
    low, high = weight_limits_kg(view.weight_kg, view.rules.weight_change)
    return words.say(
        "on_card.void_when",
        low=words.number(low, 1),
        high=words.number(high, 1),
        kg=words.number(view.weight_kg, 1),
        until=until,
    )
