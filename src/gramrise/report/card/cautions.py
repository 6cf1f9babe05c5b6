"""What stands beside the amounts: when the card does not hold, what to do after giving, help, and the cautions."""

from math import ceil, floor

from pydantic import BaseModel, ConfigDict

from gramrise.report.card.view import CardView
from gramrise.report.card.void import weight_limits_kg
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
    then: Note
    contacts: Note  # without lines where nothing is stored on a card for home
    know: Note
    void: Note

    @property
    def all(self) -> tuple[Note, ...]:
        """In the order in which they are read; empty ones left out."""
        notes = (self.emergency, self.not_for, self.then, self.contacts, self.know, self.void)
        return tuple(note for note in notes if note.lines)


def notes_of(view: CardView, words: Words) -> Notes:
    """All notes of one card."""

    def note(code: str, *lines: str) -> Note:
        return Note(heading=words.say(f"on_card.{code}_heading"), lines=tuple(line for line in lines if line))

    call = view.rules.emergency_number or words.say("on_card.emergency.local_number")
    safe = words.level(view.rules.safe_level_mg_dl)
    return Notes(
        emergency=note("emergency", words.say("on_card.emergency.cannot_swallow", call=call), *_glucagon(view, words)),
        not_for=note("not_for", *(_not_for(code, view, words) for code in view.not_for)),
        then=note("then", words.say("caution.look_again", level=safe), words.say("on_card.second")),
        contacts=note("contacts", *_contacts(view, words)),
        know=note("know", _aim(view, words), *(words.say(f"caution.{code}") for code in view.cautions)),
        void=note("void", _void(view, words)),
    )


def _glucagon(view: CardView, words: Words) -> tuple[str, ...]:
    if view.plan.glucagon_where:
        return (words.say("on_card.glucagon", where=view.plan.glucagon_where),)
    return (words.say("on_card.no_glucagon"),) if view.for_school else ()


def _contacts(view: CardView, words: Words) -> tuple[str, ...]:
    if view.plan.contacts:
        return view.plan.contacts
    return (words.say("on_card.no_contacts"),) if view.for_school else ()


def _not_for(code: str, view: CardView, words: Words) -> str:
    return words.say(f"on_card.not_for.{code}", slope=words.slope(view.rules.fast_fall_mg_dl_per_min))


def _aim(view: CardView, words: Words) -> str:
    """What the amounts and the printed range aim at; nothing where there are none."""
    if view.cap is None or not view.has_amounts:
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
    return f"{aim} {words.say('on_card.expect_note', share=share, expect=expect)}"


def _void(view: CardView, words: Words) -> str:
    until = words.day(view.valid_until, "medium")
    if view.weight_kg is None:
        return words.say("on_card.void_when_no_weight", until=until)
    low, high = weight_limits_kg(view.weight_kg, view.rules.weight_change)
    return words.say(
        "on_card.void_when",
        # Rounded towards the card's weight: who goes by the printed number never keeps a card too long.
        low=words.number(ceil(low * 10) / 10, 1),
        high=words.number(floor(high * 10) / 10, 1),
        kg=words.number(view.weight_kg, 1),
        until=until,
    )
