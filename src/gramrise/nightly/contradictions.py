"""A file whose readings contradict most of those known for the same times waits: one of the two has the wrong clock."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final

from gramrise.domain.person import Person
from gramrise.domain.questions import Question
from gramrise.store import REPLACED, RIGHT, TAKE_BACK, AmountsGone, Between, Overlap, Shifted

if TYPE_CHECKING:
    from gramrise.domain.batch import Quarantined
    from gramrise.intake import IntakeSettings

# Our choice: one or two rows are slips of the pen; an hour of readings, or a fifth of a log, is a clock.
FEWEST_AHEAD: Final = 3
MANY_AHEAD: Final = 12
SHARE_AHEAD: Final = 0.2
FEWEST_MOVED: Final = 2  # our choice: one record whose time is another was mended
SHARE_MOVED: Final = 0.9  # our choice: a family or a sender mends few of its records
MOST_NAMED: Final = 4  # amounts; our choice


def contradicts(overlap: Overlap, settings: "IntakeSettings") -> bool:
    """Whether a file's readings are other than most of those known for its times.

    A few corrected readings land, unless nearly all are, and by far: see `contradicts_from_readings` and
    `few_contradict_from_readings` in config/intake.toml.
    """
    differing, shared = overlap.differing, overlap.differing + overlap.equal
    if differing >= settings.contradicts_from_readings:
        return differing > settings.contradicts_from_share * shared
    nearly_all = differing > settings.few_contradict_from_share * shared
    few = nearly_all and differing >= settings.few_contradict_from_readings
    return few and overlap.apart_mg_dl() > settings.few_contradict_apart_mg_dl


def replaced_question(overlap: Overlap, file: str, person: Person, settings: "IntakeSettings") -> Question | None:
    """What is asked about a file that would have waited, although it was said to be right; None for any other.

    A file of another child brought with --replace would else teach unseen.
    """
    between = stands_between(overlap, settings)
    if contradicts(overlap, settings):
        (first, last), equal = _told_span(person, *overlap.span()), overlap.differing
        did = f"replaced {equal} known readings of {person.person_id}, {first} to {last}, by other values"
    elif between is not None:
        (first, last), equal = _told_span(person, between.first_utc, between.last_utc), between.readings_n
        did = f"put {equal} readings between those of {person.person_id}, {first} to {last}, and they are others"
    else:
        return None
    about: dict[str, object] = {"file": file, "equal": equal}
    sentence = f"{file} {did}. Is it theirs, and right?"
    return Question(person.person_id, REPLACED, f"{file} {first}", sentence, (RIGHT, TAKE_BACK), about)


def stands_between(overlap: Overlap, settings: "IntakeSettings") -> Between | None:
    """A file's readings between the known ones, where they are many and others; else None."""
    found = overlap.between()
    if found is None or found.readings_n < settings.contradicts_from_readings:
        return None
    usual = max(settings.between_apart_mg_dl, settings.between_apart_share * found.level_mg_dl)
    many = found.dense_n >= settings.dense_from_readings
    to_one_side = abs(found.dense_off_mg_dl) >= settings.dense_off_mg_dl
    others = to_one_side or found.dense_apart_mg_dl >= settings.dense_apart_mg_dl
    return found if found.apart_mg_dl > usual or (many and others) else None


def _told_span(person: Person, *instants: datetime) -> tuple[str, ...]:
    return tuple(f"{at.astimezone(person.zone_now()):%a %d %b %Y %H:%M}" for at in instants)


def refuse_contradiction(overlap: Overlap, file: str, person: Person, settings: "IntakeSettings") -> None:
    """Raises FileWaits, within the file's transaction, so that nothing of it is taken in."""
    from gramrise.intake import FileWaits

    if not contradicts(overlap, settings):
        return
    differing, shared = overlap.differing, overlap.differing + overlap.equal
    first, last = _told_span(person, *overlap.span())
    what = (
        f"{differing} of the {shared} readings it has for times known already of {person.person_id}, "
        f"{first} to {last}, are other values{_of_another_clock(overlap.minutes_later())}; nothing of it was taken in"
    )
    mend = (
        "if it is another person's, bring it for them; if a new sensor began before the old one ended, leave those "
        "hours of one of the two out; if its clock is another, name its zone in a layout "
        '(gramrise layouts FILE; zone = "UTC", or as Europe/Berlin) and bring it with --layout; '
        f"if this file is right: gramrise import FILE --person {person.person_id} --replace"
    )
    raise FileWaits("contradicts", file, what, mend)


def refuse_between(overlap: Overlap, file: str, person: Person, settings: "IntakeSettings") -> None:
    """Raises FileWaits, within the file's transaction, where its readings stand between the known ones and are others.

    Two sensors, or two persons, make a saw of one trace, and lows are lost in it.
    """
    from gramrise.intake import FileWaits

    found = stands_between(overlap, settings)
    if found is None:
        return
    first, last = _told_span(person, found.first_utc, found.last_utc)
    raise FileWaits(
        "between_known",
        file,
        f"{found.readings_n} of its readings stand between those known of {person.person_id}, {first} to {last}, and "
        "are other values than those on either side; nothing of it was taken in",
        "if it is another person's, bring it for them; if a new sensor began before the old one ended, leave those "
        "hours of one of the two out; if all of it is right: "
        f"gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_shifted(found: Shifted | None, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where its amounts are those known, all by another clock."""
    from gramrise.intake import FileWaits

    if found is None:
        return
    first, last = _told_span(person, found.first_utc, found.last_utc)
    raise FileWaits(
        "amounts_by_another_clock",
        file,
        f"{found.amounts_n} of its amounts of glucose, {first} to {last}, are known already of {person.person_id}"
        f"{_of_another_clock(found.minutes_later)}, and would count twice; nothing of it was taken in",
        'if its clock is another, name its zone in a layout (gramrise layouts FILE; zone = "UTC", or as Europe/Berlin) '
        "and bring it with --layout; if these were given beside those known: "
        f"gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_ahead(quarantine: "Sequence[Quarantined]", offered: int, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where much of it lies in the future.

    Either its clock is wrong or this machine's: what were set aside now would not be read again once that is mended.
    """
    from gramrise.intake import FileWaits

    ahead = sum(held.trouble.code == "time_out_of_range" for held in quarantine)
    if ahead < FEWEST_AHEAD or (ahead < MANY_AHEAD and ahead < SHARE_AHEAD * offered):
        return
    raise FileWaits(
        "times_ahead",
        file,
        f"the times of {ahead} of its {offered} rows are in the future, or before the birth; "
        "nothing of it was taken in",
        "look at this machine's date and time, and at how the file writes its days; where both are right, these rows "
        f"are set aside by: gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_continued(before_utc: datetime | None, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where a note brings again what it brought on another day."""
    from gramrise.intake import FileWaits

    if before_utc is None:
        return
    on = before_utc.astimezone(person.zone_now())
    raise FileWaits(
        "note_continued",
        file,
        f"the lines that it brought for {on:%Y-%m-%d} stand in it again, and would count for another day; nothing of "
        "it was taken in",
        "write the day above the lines of each night, as 2026-03-14, or begin a new note; if the same was given again: "
        f"gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_gone(gone: AmountsGone | None, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where a log has amounts no more that it brought before."""
    from gramrise.intake import FileWaits

    if gone is None:
        return
    named = [f"{_told_span(person, at)[0]} {source}".strip() for at, source in gone.amounts[:MOST_NAMED]]
    more = f" and {len(gone.amounts) - MOST_NAMED} more" if len(gone.amounts) > MOST_NAMED else ""
    raise FileWaits(
        "amounts_gone",
        file,
        f"it brought before what is not in it any more ({', '.join(named)}{more}), and that would go on counting "
        "beside what it has now; nothing of it was taken in",
        f"if these were slips: gramrise undo {' and '.join(map(str, gone.changes))}, then bring this file again; if "
        f"they were given as well: gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_renumbered(overlap: Overlap, file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where nearly all records known by id now are of other times.

    As newer versions they would take the rows of the file before out. One record whose time was mended does.
    """
    from gramrise.intake import FileWaits

    moved, known = overlap.records_moved, overlap.records_known
    if moved < FEWEST_MOVED or moved <= SHARE_MOVED * known:
        return
    raise FileWaits(
        "records_renumbered",
        file,
        f"{moved} of the {known} record ids of it that are known already of {person.person_id} stand for other times "
        "than before: are its records numbered anew in every file? Nothing of it was taken in",
        f"if they are, state it under [intake] in gramrise.toml, numbered_anew = ['{person.person_id}'], and bring the "
        "file again: what was brought before stays; if its sender has moved all these records in time: "
        f"gramrise import FILE --person {person.person_id} --replace",
    )


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


def refuse_several(persons: set[str], file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where its records are of others beside or instead of a person.

    persons  ids of those whose records it holds
    """
    from gramrise.intake import FileWaits

    if not persons - {person.person_id}:
        return
    named = " and ".join(f"'{one}'" for one in sorted(persons))
    raise FileWaits(
        "several_persons",
        file,
        f"its records are of {named}, and it was brought for '{person.person_id}'; nothing of it was taken in",
        "bring each person's records as a file of their own; where each record is of the person it names: "
        f"gramrise import FILE --person {person.person_id} --replace",
    )


def refuse_others_file(others: list[str], file: str, person: Person) -> None:
    """Raises FileWaits, within the file's transaction, where the very same file was taken in for another person."""
    from gramrise.intake import FileWaits

    if others:
        other, who = others[0], person.person_id
        raise FileWaits(
            "whose_file",
            file,
            f"the very same file was taken in for {other}; nothing of it was taken in for {who}",
            f"if it is {who}'s, too: gramrise import FILE --person {who} --replace; if it was taken in for {other} by "
            "mistake: gramrise undo",
        )


def _of_another_clock(minutes_later: int) -> str:
    if not minutes_later:
        return ""
    way = "earlier" if minutes_later > 0 else "later"
    hours, minutes = divmod(abs(minutes_later), 60)
    by = " ".join([*([f"{hours} h"] if hours else []), *([f"{minutes} min"] if minutes else [])])
    return f", the very ones known for {by} {way}"
