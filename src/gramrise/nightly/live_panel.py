"""The panel as a page shows it: each person's line is made once, and again when anything it rests on has changed."""

from collections.abc import Hashable, Sequence
from datetime import datetime
from pathlib import Path
from threading import Lock

from gramrise.domain.person import Person
from gramrise.domain.problems import GramriseError
from gramrise.nightly.current import settings_changed_utc
from gramrise.nightly.reviews import ReviewRules, review_of, review_rules
from gramrise.report import Panel, PanelLine, panel_line, panel_of
from gramrise.store import Store


class LivePanel:
    """Lines kept in memory for whoever looks again; safe for several threads."""

    def __init__(self) -> None:
        self._lines: dict[tuple[str, str], tuple[Hashable, PanelLine]] = {}
        self._lock = Lock()

    def panel(
        self, store: Store, people: Sequence[Person], now_utc: datetime, home: Path | None, language: str
    ) -> Panel:
        """The panel of these people, equal to that of `reviews_of`; who could not be reviewed is named on it."""
        rules = review_rules(home)
        lines, could_not = [], []
        for person in people:
            try:
                lines.append(self._line(store, person, now_utc, home, language, rules))
            except GramriseError:
                could_not.append(person.person_id)
        return panel_of(
            lines, language=language, written_at_utc=now_utc, settings=rules.review, could_not=could_not
        )  # fmt: skip

    def _line(
        self, store: Store, person: Person, now_utc: datetime, home: Path | None, language: str, rules: ReviewRules
    ) -> PanelLine:
        rests_on = _rests_on(store, person, now_utc, home)
        with self._lock:
            kept = self._lines.get((person.person_id, language))
        if kept is not None and rests_on is not None and kept[0] == rests_on:
            return kept[1]
        made = panel_line(review_of(store, person.person_id, now_utc, home, language, rules), rules.review)
        rests_on = _rests_on(store, person, now_utc, home)  # findings may have been brought up to date just now
        if rests_on is not None:
            with self._lock:
                self._lines[person.person_id, language] = (rests_on, made)
        return made


def _rests_on(store: Store, person: Person, now_utc: datetime, home: Path | None) -> Hashable | None:
    """All that a line changes with, in a few short queries; None: the findings are not those of today's inputs."""
    as_of, settings = store.current_as_of(person.person_id), settings_changed_utc(home)
    if as_of is None or as_of < settings <= now_utc:
        return None
    signed = tuple((one.number, one.withdrawn_on) for one in store.references_of(person.person_id))
    cards = tuple((card.number, card.gone_on) for card in store.cards_of(person.person_id))
    asked = tuple(each.question_id for each in store.questions(person.person_id))
    today = now_utc.astimezone(person.zone_now()).date()
    return (as_of, settings, today, signed, cards, asked, person.name)
