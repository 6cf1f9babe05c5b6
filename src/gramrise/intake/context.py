"""Everything beside a table that its reading depends on."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from operator import attrgetter

from gramrise.domain.person import Person
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords, folded

_ID = attrgetter("person_id")
_MOST_OF_A_FAMILY = 12  # our choice


@dataclass(frozen=True, slots=True)
class ReadContext:
    """Whose file it is, what is plausible, which words people use, and when it is read.

    others  ids and names of the other persons of the household, folded: a file that names one of them may be theirs
    sources_of_others  (name, whose) of each source that another of them has: such a word is no general one here
    """

    person: Person
    settings: IntakeSettings
    words: HeaderWords
    now_utc: datetime
    containers: tuple[str, ...] = ()  # names of the tins and bags that were counted before
    others: frozenset[str] = frozenset()
    sources_of_others: tuple[tuple[str, str], ...] = ()

    @property
    def earliest_utc(self) -> datetime:
        """No log begins before this: the day before the birth, by UTC, or the first year that can be meant."""
        born = datetime.combine(self.person.born, time(), UTC) - timedelta(days=1)
        return max(born, datetime(self.settings.earliest_year, 1, 1, tzinfo=UTC))

    @property
    def latest_utc(self) -> datetime:
        """No log has gone on beyond this: now, and what a clock may be ahead."""
        return self.now_utc + timedelta(hours=self.settings.latest_hours_ahead)


def other_ids(person: Person, household: tuple[Person, ...]) -> frozenset[str]:
    """The ids of everybody else, as `ReadContext.others` holds them; in a family their first names, too.

    Among many people somebody is called like any word.
    """
    # Asked for every file of a night over everybody: `map` and the cache of `folded` keep it to some 6 ms at 10,000.
    others = frozenset(map(folded, map(_ID, household))) - {folded(person.person_id)}
    if len(household) > _MOST_OF_A_FAMILY:
        return others
    own = {folded(person.person_id), *folded(person.name).split()}
    named = (folded(one.name).split()[:1] for one in household if one.person_id != person.person_id)
    return others | frozenset(name for names in named for name in names if len(name) > 1 and name not in own)


def sources_of_others(person: Person, household: tuple[Person, ...], words: HeaderWords) -> tuple[tuple[str, str], ...]:
    """(name, whose) of the sources of everybody else, as `ReadContext.sources_of_others` holds them.

    That a sister's candies are also called pieces makes no name of the word. Among many people anything is a source.
    """
    if len(household) > _MOST_OF_A_FAMILY:
        return ()
    counting = {folded(word) for word in (*words.amounts["piece"], *words.amounts["bottle"])}
    return tuple(
        dict.fromkeys(
            (name, other.name or other.person_id)
            for other in household
            if other.person_id != person.person_id
            for _, told in other.sources.entries
            for source in told
            for name in (source.name, *(also for also in source.other_names if folded(also) not in counting))
        )
    )
