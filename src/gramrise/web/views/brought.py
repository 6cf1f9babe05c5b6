"""What became of a file that was dropped into the page: rows that landed, what was set aside, why it waits."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from gramrise.domain.batch import ImportSummary
from gramrise.domain.problems import GramriseError
from gramrise.intake import FileTrouble, FileWaits, load_settings
from gramrise.nightly import joined, mostly_corrects, take_in_file
from gramrise.report import import_counts, question_words

if TYPE_CHECKING:
    from gramrise.nightly import FileTaken
    from gramrise.web.visit import Upload, Visit

# So many sentences of a file are shown; all set-aside rows are kept. Our choice: a screen or two.
MOST_TOLD: Final = 40


@dataclass(frozen=True, slots=True)
class Brought:
    """One file. `landed`: something of it is in the log; `waits`: why nothing is; `told`: sentences about it."""

    name: str
    landed: str
    waits: str
    told: tuple[str, ...]


def brought(visit: "Visit", upload: "Upload", *, replace: bool) -> Brought:
    """Takes a file in, as `gramrise import` does, and says what came of it. One file's trouble is its own."""
    try:
        taken = take_in_file(
            visit.store, visit.page.home, visit.person, upload.path, visit.now_utc, replace=replace
        )  # fmt: skip
    except FileTrouble as trouble:
        readings = trouble.readings if isinstance(trouble, FileWaits) else ()
        return Brought(upload.name, "", visit.spoken(str(trouble)), tuple(map(visit.spoken, readings)))
    except (GramriseError, OSError) as trouble:
        return Brought(upload.name, "", visit.spoken(str(trouble)), ())
    summaries = joined(taken.summaries)
    return Brought(upload.name, " ".join(_summed(visit, each) for each in summaries), "", _told(visit, taken, replace))


def _summed(visit: "Visit", summary: ImportSummary) -> str:
    if summary.known_file and summary.set_aside_then:
        return visit.say("brought.known_waits", count=summary.set_aside_then)
    if summary.known_file:
        return visit.say("brought.known_file")
    return f"{import_counts(summary, visit.screens)}."


def _told(visit: "Visit", taken: "FileTaken", replace: bool) -> tuple[str, ...]:
    least = load_settings(visit.page.home).contradicts_from_readings
    changed = not replace and any(mostly_corrects(each, least) for each in joined(taken.summaries))
    unread = len(taken.quarantine)
    rows = [visit.spoken(held.trouble.sentence) for held in taken.quarantine[:MOST_TOLD]]
    more = [visit.say("brought.more", count=unread - MOST_TOLD)] if unread > MOST_TOLD else []
    asked = visit.store.questions(visit.person.person_id)[-taken.questions_n :] if taken.questions_n else []
    return (
        *map(visit.spoken, taken.remarks[:MOST_TOLD]),
        *rows,
        *more,
        *([visit.say("brought.changed")] if changed else []),
        *(question_words(each.question, visit.person, visit.screens) for each in asked[:MOST_TOLD]),
    )
