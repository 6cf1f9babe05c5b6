"""How soon the rise comes and how long it lasts, by form: what `gramrise factors --course` shows."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.domain.findings import Findings
    from gramrise.domain.person import Person


def show_courses(who: "Person", found: "Findings", as_json: bool) -> None:
    """Print the courses as a table, or as one document."""
    from gramrise.cli import tables
    from gramrise.report import screen_words

    if as_json:
        from gramrise.cli import documents

        print(documents.document("courses", found.courses))
        return
    words = screen_words(who.language)
    tables.show(
        words.say("courses.title", person=who.person_id),
        [
            (words.say("courses.form"), "left"),
            (words.say("courses.half"), "right"),
            (words.say("courses.top"), "right"),
            (words.say("courses.left"), "right"),
        ],
        [
            (
                words.say(f"courses.forms.{row['form']}"),
                f"{row['minutes_to_half']:.0f} min ({row['p05_minutes_to_half']:.0f}-{row['p95_minutes_to_half']:.0f})",
                f"{row['minutes_to_peak']:.0f} min",
                f"{_percent(row['share_left_90'])} % "
                f"({_percent(row['p05_share_left_90'])}-{_percent(row['p95_share_left_90'])})",
            )
            for row in found.courses.iter_rows(named=True)
        ],
        empty=words.say("courses.none"),
    )
    tables.say(words.say("courses.measured"))
    tables.say(words.say("courses.meaning"))


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}"
