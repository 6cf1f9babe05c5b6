"""A file whose readings contradict most of those known for the same times waits: one of the two has the wrong clock."""

from typing import TYPE_CHECKING

from gramrise.domain.person import Person
from gramrise.store import Overlap

if TYPE_CHECKING:
    from gramrise.intake import IntakeSettings


def refuse_contradiction(overlap: Overlap, file: str, person: Person, settings: "IntakeSettings") -> None:
    """Raises FileWaits, within the file's transaction, so that nothing of it is taken in.

    A few corrected readings land: see `contradicts_from_readings` in config/intake.toml.
    """
    from gramrise.intake import FileWaits

    differing, shared = overlap.differing, overlap.differing + overlap.equal
    if differing < settings.contradicts_from_readings or differing <= settings.contradicts_from_share * shared:
        return
    zone = person.zone_now()
    first, last = (f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for at in overlap.span())
    what = (
        f"{differing} of the {shared} readings it has for times known already of {person.person_id}, "
        f"{first} to {last}, are other values{_of_another_clock(overlap.minutes_later())}; nothing of it was taken in"
    )
    mend = (
        "if it is another person's, bring it for them; if its clock is another, name its zone in a layout "
        '(gramrise layouts FILE; zone = "UTC", or as Europe/Berlin) and bring it with --layout; '
        f"if this file is right: gramrise import FILE --person {person.person_id} --replace"
    )
    raise FileWaits("contradicts", file, what, mend)


def refuse_other_owner(overlap: Overlap, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where its readings are those known of another person.

    It tells how many are equal and of whom, never a value.
    """
    from gramrise.intake import FileWaits

    if not overlap.others:
        return
    other, equal = max(overlap.others.items(), key=lambda one: (one[1], one[0]))
    raise FileWaits(
        "whose_file",
        file,
        f"{equal} of its readings equal those known of {other}; nothing of it was taken in for {person.person_id}",
        f"if it is {other}'s, bring it for them; if {person.person_id}'s was taken in for {other} by mistake, or it is "
        f"{person.person_id}'s all the same: gramrise import FILE --person {person.person_id} --replace",
    )


def _of_another_clock(minutes_later: int) -> str:
    if not minutes_later:
        return ""
    way = "earlier" if minutes_later > 0 else "later"
    hours, minutes = divmod(abs(minutes_later), 60)
    by = " ".join([*([f"{hours} h"] if hours else []), *([f"{minutes} min"] if minutes else [])])
    return f", the very ones known for {by} {way}"
