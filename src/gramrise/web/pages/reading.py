"""What a parent reads: today, lows, the weekly report, cards and stock; and a count of what is on hand."""

from typing import Final

from starlette.responses import HTMLResponse, Response

from gramrise.config.settings import load
from gramrise.domain.counts import StockCount
from gramrise.domain.problems import WrongUse
from gramrise.nightly import view_of_week
from gramrise.report import ReportSettings, render_html
from gramrise.web.guard.headers import PAPER_POLICY
from gramrise.web.views import found
from gramrise.web.views.today import today
from gramrise.web.visit import FAMILY, Door, Visit

# Where "all else" leads, in this order: what waits for somebody first.
ELSE: Final = ("questions", "upload", "count", "mix", "stock", "lows", "report", "cards", "changes")


def more(visit: Visit) -> Response:
    """All that a parent may do here beside logging."""
    return visit.shown("more.html", today=today(visit), ways=ELSE)


def lows(visit: Visit) -> Response:
    visit.note_seen("lows")
    return visit.shown("lows.html", lows=found.lows(visit), days=visit.page.settings.lows_days)


def report(visit: Visit) -> Response:
    """The weekly report of the last whole night, as its mail brings it; nothing in it runs."""
    visit.note_seen("report")
    view = view_of_week(visit.store, visit.person.person_id, None, visit.now_utc, visit.page.home)
    page = render_html(view, load("report", ReportSettings, visit.page.home))
    return HTMLResponse(page, headers={"Content-Security-Policy": PAPER_POLICY})


def cards(visit: Visit) -> Response:
    visit.note_seen("card")
    return visit.shown("cards.html", out=found.cards(visit), now=found.cards_now(visit))


def throw_away(visit: Visit) -> Response:
    number = visit.whole_number("number")
    visit.store.throw_away_card(visit.person.person_id, number, visit.today)
    return visit.back("/cards", visit.say("card_out.gone_done", number=number))


def stock(visit: Visit) -> Response:
    return visit.shown("stock.html", lines=found.stock(visit), weak=found.weak(visit))


def count_stock(visit: Visit) -> Response:
    """Keeps a count of all that is on hand of a source."""
    source = visit.form.get("source", "")
    if source not in {each.name for each in visit.person.sources_now()}:
        raise WrongUse(visit.say("slip.amount"), visit.say("mend.amount"))
    counted = StockCount(source, visit.now_utc.replace(microsecond=0), visit.positive_number("amount", or_zero=True))
    visit.store.supplies.keep_stock_count(visit.person.person_id, counted, visit.now_utc)
    return visit.back("/stock", visit.say("onhand.kept"))


DOORS: Final = (
    Door("/more", more, FAMILY),
    Door("/lows", lows, FAMILY),
    Door("/report", report, FAMILY),
    Door("/cards", cards, FAMILY),
    Door("/cards/gone", throw_away, FAMILY, ("POST",)),
    Door("/stock", stock, FAMILY),
    Door("/stock/counted", count_stock, FAMILY, ("POST",)),
)
