"""A person's review on paper: the statement, the course, the page before the visit, every sign-off, and the traces."""

from collections.abc import Sequence

from gramrise.report.review.chapters import blocks as review
from gramrise.report.review.chapters.frame import name_of, person_page_of, words_of
from gramrise.report.review.chapters.pairing_picture import sheet_svg
from gramrise.report.review.chapters.person_page import person_chapters
from gramrise.report.review.chapters.visit_page import visit_chapters
from gramrise.report.review.numbers.view import Paired, PersonReview
from gramrise.report.review.settings import DEFAULT, ReviewSettings
from gramrise.report.weekly.chapters.document import Block, Bullets, Document, Heading, Paragraph, Picture, Row, Table
from gramrise.report.weekly.pages.pdf import pdf_of
from gramrise.report.weekly.settings import Paper
from gramrise.report.words import Words

COLUMNS = 3
ON_A_SHEET = 18


def review_pdf(view: PersonReview, paper: Paper = "a4", settings: ReviewSettings = DEFAULT) -> bytes:
    """A tagged PDF/UA-1; the same view gives the same bytes. A letter that no font has is shown as a sign."""
    return pdf_of(document_of(view, settings), paper, int(view.written_at_utc.timestamp()))


def document_of(view: PersonReview, settings: ReviewSettings = DEFAULT) -> Document:
    """The person's page, the page before the visit, and the latest traces, without links."""
    words = words_of(view)
    chapters = person_chapters(view, words, pairings=False)
    page = person_page_of(view, review.PageKind.PERSON, words.say("way.person"), (), words, with_panel=False)
    visit = visit_chapters(view, words, settings)
    return Document(
        language=words.language,
        title=page.title,
        kicker=page.kicker,
        name=page.heading,
        subtitle=page.subtitle,
        written=page.written,
        footer=words.say("review.footer", name=name_of(view)[:40], day=words.day(view.data_on, "brief")),
        footer_caution=page.footer,
        page=words.say("title.page", page="{page}", pages="{pages}"),
        blocks=(
            *(told for block in chapters for told in _on_paper(block)),
            Heading(words.say("way.visit"), new_page=True),
            *(told for block in visit for told in _on_paper(block)),
            *_traces(view, words, settings),
        ),
    )


def _on_paper(block: review.Block) -> list[Block]:
    match block:
        case review.Heading(text):
            return [Heading(text)]
        case review.Paragraph(line, quiet):
            only_leads = quiet and any(isinstance(piece, review.Link) for piece in line)
            return [] if only_leads else [Paragraph(_printed(line), quiet)]
        case review.Items(lines):
            return [Bullets(tuple(_printed(line) for line in lines))]
        case review.Table(title, head, right, rows):
            return [Table(title, head, right, tuple(_row(row) for row in rows))]
        case review.Figure(svg, alt, caption):
            return [Picture("course", svg, svg, alt, caption)]
        case review.Smalls():
            return []


def _printed(line: review.Line) -> str:
    """A line without what leads to another page."""
    return review.plain(tuple(piece for piece in line if not isinstance(piece, review.Link))).strip()


def _row(row: review.Row) -> Row:
    return Row(tuple(review.plain(cell) for cell in row.cells), review.plain(row.note))


def _traces(view: PersonReview, words: Words, settings: ReviewSettings) -> list[Block]:
    """The latest traces, a sheet of them a page; the rest are counted."""
    shown = view.pairings[: settings.most_pdf_traces]
    if not shown:
        return []
    blocks: list[Block] = []
    for start in range(0, len(shown), ON_A_SHEET):
        sheet = shown[start : start + ON_A_SHEET]
        named = [(_title(one, words), one) for one in sheet]
        svg = sheet_svg(named, view, words, COLUMNS)
        last = start + ON_A_SHEET >= len(shown)
        caption = words.say("pairing.how") if last else words.say("pairing.sheet", number=start // ON_A_SHEET + 1)
        blocks += [
            Heading(words.say("way.pairings"), new_page=True),
            Picture(f"traces{start}", svg, svg, _alt(named), caption),
        ]
    rest = len(view.pairings) - len(shown)
    return [*blocks, Paragraph(words.say("pairing.more", count=rest))] if rest else blocks


def _title(one: Paired, words: Words) -> str:
    verdict = words.say("pairing.set_aside")
    if one.verdict == "used" and one.factor_mg_dl_per_g is not None and one.factor_mg_dl_per_g > 0:
        verdict = words.say("pairing.brief", factor=words.factor(one.factor_mg_dl_per_g)[0])
    return f"{words.when_dated(one.first_dose_utc)}: {verdict}"


def _alt(named: Sequence[tuple[str, Paired]]) -> str:
    return "; ".join(name for name, _ in named)
