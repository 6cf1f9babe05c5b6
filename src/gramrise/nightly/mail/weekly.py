"""One person's week: the view the report, the mail and --json share, and the files written from it."""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

import polars as pl

from gramrise.config.private_files import private_folder, write_whole
from gramrise.config.settings import load
from gramrise.domain.findings import Findings
from gramrise.domain.person import Person, noon_there
from gramrise.estimate import estimate_settings
from gramrise.nightly.cards import cards_out
from gramrise.nightly.counting import supplies_of_week
from gramrise.nightly.current import current_findings
from gramrise.nightly.inbox import files_held
from gramrise.report import Paper, ReportSettings, WeeklyView, weekly_view
from gramrise.store import Store

# The local hour at which one night's strip ends and the next begins.
NOON: Final = 12


def view_of_week(
    store: Store, person_id: str, week_end: date | None, now_utc: datetime, home: Path | None = None
) -> WeeklyView:
    """The week whose last night ends at noon of `week_end` (local date); None: the last day with readings.

    Findings are brought up to date first where inputs have changed since. Raises WrongUse for an unknown id.
    """
    found = current_findings(store, person_id, now_utc, home)
    inputs = store.inputs(person_id)
    end = week_end or last_day(inputs.person, inputs.readings, now_utc)
    waiting = [asked.question for asked in store.questions(person_id)]
    return weekly_view(
        inputs,
        found,
        week_end=end,
        now_utc=now_utc,
        questions=waiting,
        files_held=files_held(home, person_id) if home is not None else 0,
        set_aside=store.lines_set_aside(person_id, _first_noon(inputs.person, end)),
        earlier=_shown_a_week_before(store, inputs.person, end),
        cards=cards_out(store, inputs.person, now_utc),
        supplies=supplies_of_week(store, inputs, found, end, now_utc, home),
        settings=load("report", ReportSettings, home),
        state_settings=estimate_settings(home).state,
    )


def _shown_a_week_before(store: Store, person: Person, week_end: date) -> Findings | None:
    """The factors as the night before the week's first noon showed them; None when no night had shown any."""
    return store.shown_by(person.person_id, _first_noon(person, week_end))


def _first_noon(person: Person, week_end: date) -> datetime:
    """The noon at which the week begins that ends at noon of `week_end`."""
    return noon_there(person.zone, week_end - timedelta(days=7))


def last_day(person: Person, readings: pl.DataFrame, now_utc: datetime) -> date:
    """The local date on which the last complete noon-to-noon night with readings ends; without readings, up to now.

    A day whose noon has not come is open: its night is told in the next report.
    """
    zone = person.zone_now()
    last = readings["at_utc"].max()
    local = (last if isinstance(last, datetime) else now_utc).astimezone(zone)
    # A reading after noon belongs to the night that ends tomorrow.
    wanted = local.date() + timedelta(days=1) if local.hour >= NOON else local.date()
    now = now_utc.astimezone(zone)
    complete = now.date() if now.hour >= NOON else now.date() - timedelta(days=1)
    return min(wanted, complete)


def write_report(view: WeeklyView, folder: Path, *, paper: str | None = None, home: Path | None = None) -> list[Path]:
    """Writes PDF and HTML of a week and returns their paths; the same week again replaces them.

    paper  a4 | letter; None: as the settings of the home say
    """
    from gramrise.report import render_html, render_pdf

    private_folder(folder)
    stem = folder / f"{view.person_id}-{view.week_end.isoformat()}"
    pdf, html = stem.with_suffix(".pdf"), stem.with_suffix(".html")
    settings = load("report", ReportSettings, home)
    chosen: Paper | None = None if paper is None else "letter" if paper == "letter" else "a4"
    write_whole(pdf, render_pdf(view, chosen, settings))
    write_whole(html, render_html(view, settings).encode("utf-8"))
    return [pdf, html]
