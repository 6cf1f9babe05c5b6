"""What a weekly report costs: HTML and PDF of one person, and the whole mail; and a card as PDF and picture.

Run: python tests/benchmark/report_cost.py
"""

from dataclasses import replace
from itertools import pairwise
from statistics import median
from time import process_time

import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.card_people import card
from support.report_people import NOW, Case, everyone

from gramrise.domain.frames import UTC
from gramrise.report.card.pages.page import card_pdf, card_png
from gramrise.report.weekly.pages.html import render_html
from gramrise.report.weekly.pages.mail import compose
from gramrise.report.weekly.pages.pdf import render_pdf

BAR_SECONDS = 1.0  # a bar of the design: weekly report HTML + PDF < 1 s a person
ROUNDS = 5
WEEKS = 260


def main() -> None:
    people = {**everyone(), "plain, five years of history": _with_history(everyone()["plain"])}
    render_pdf(people["no_lows"].view())  # imports and fonts are loaded once a night, not once a person
    print(f"{'person':36}{'view':>8}{'HTML':>8}{'PDF':>8}{'together':>10}{'mail':>8}  bar {BAR_SECONDS:g} s CPU")
    worst = 0.0
    for name, case in people.items():
        rounds = [_once(case, f"{name} {number}") for number in range(ROUNDS)]
        view_s, html_s, pdf_s, mail_s = (median(times) for times in zip(*rounds, strict=True))
        together = view_s + html_s + pdf_s
        worst = max(worst, together)
        print(f"{name:36}{view_s:8.3f}{html_s:8.3f}{pdf_s:8.3f}{together:10.3f}{mail_s:8.3f}")
    verdict = "holds" if worst < BAR_SECONDS else "FALLS SHORT"
    print(f"weekly report HTML + PDF, worst person: {worst:.3f} s / bar {BAR_SECONDS:g} s / {verdict}")
    card_s = median([_card() for _ in range(ROUNDS)])
    verdict = "holds" if card_s < BAR_SECONDS else "FALLS SHORT"
    print(f"a card as PDF and picture: {card_s:.3f} s / bar {BAR_SECONDS:g} s / {verdict}")


def _card() -> float:
    """CPU seconds of a card, from its numbers to its pictures."""
    begun = process_time()
    view = card()
    card_pdf(view)
    card_png(view)
    return process_time() - begun


def _once(case, name: str) -> tuple[float, ...]:
    """CPU seconds of view, HTML, PDF, mail; another name each time, so that the typesetter cannot reuse its pages."""
    marks = [process_time()]
    view = case.fresh_view().model_copy(update={"name": name})
    marks.append(process_time())
    render_html(view)
    marks.append(process_time())
    render_pdf(view)
    marks.append(process_time())
    compose(view, "a@example.org", message_id="<a@example.org>", date=NOW, sender="b@example.org")
    marks.append(process_time())
    return tuple(b - a for a, b in pairwise(marks))


def _with_history(case: Case) -> Case:
    """The same person with the week repeated back over five years."""
    return replace(
        case,
        inputs=replace(
            case.inputs,
            readings=_repeated(case.inputs.readings, "at_utc"),
            doses=_repeated(case.inputs.doses, "taken_at_utc"),
        ),
        findings=replace(
            case.findings,
            lows=_repeated(case.findings.lows, "start_utc"),
            treatments=_repeated(case.findings.treatments, "first_dose_utc"),
            pairings=_repeated(case.findings.pairings, "first_dose_utc"),
            paths=_repeated(case.findings.paths, "at_utc"),
        ),
    )


def _repeated(frame: pl.DataFrame, instant: str) -> pl.DataFrame:
    times = [name for name, kind in frame.schema.items() if kind == UTC]
    weeks = [frame.with_columns(pl.col(times).dt.offset_by(f"-{7 * week}d")) for week in range(WEEKS)]
    return pl.concat(weeks).sort(instant)


if __name__ == "__main__":
    main()
