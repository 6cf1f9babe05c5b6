"""How soon the rise comes and how long it lasts, by form: what `gramrise factors --course` shows."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.domain.findings import Findings
    from gramrise.domain.person import Person


def show_courses(who: "Person", found: "Findings", as_json: bool) -> None:
    """Print the courses as a table, or as one document."""
    from gramrise.cli import tables

    if as_json:
        from gramrise.cli import documents

        print(documents.document("courses", found.courses))
        return
    tables.show(
        f"How the level rises after glucose, {who.person_id}",
        [("form", "left"), ("half is there", "right"), ("top", "right"), ("left after 90 min", "right")],
        [
            (
                row["form"],
                f"{row['minutes_to_half']:.0f} min ({row['p05_minutes_to_half']:.0f}-{row['p95_minutes_to_half']:.0f})",
                f"{row['minutes_to_peak']:.0f} min",
                f"{_percent(row['share_left_90'])} % "
                f"({_percent(row['p05_share_left_90'])}-{_percent(row['p95_share_left_90'])})",
            )
            for row in found.courses.iter_rows(named=True)
        ],
        empty="No treatment could be measured yet.",
    )
    tables.say(
        "Measured: how the readings after this person's own treatments rose and fell. Assumed: the shape of a single "
        "rise, how fast glucose leaves the stomach before anything was measured, and how late the sensor shows it; "
        "with few treatments of a form it is nearly all assumed."
    )
    tables.say(
        "In the blood, from swallowing on; a sensor shows it some minutes later. In brackets: 9 of 10 such ranges hold "
        "the true value. An average of past events, not an order: insulin, sport or illness can halve or double it. "
        "Look again after 15 minutes all the same."
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}"
