"""The card in words: every string on it, in the person's language; paper, picture and terminal print these."""

from babel.numbers import format_decimal
from pydantic import BaseModel, ConfigDict

from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.cautions import Notes, notes_of
from gramrise.report.card.view import BandView, CardView, CellView, RowView
from gramrise.report.words import Words, words_for

# Columns of amounts that stand side by side on one page. Our choice: with more, the amounts become too small.
BANDS_ON_A_PAGE = 2


class Lines(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class CellFace(Lines):
    """A cell: an amount with what to expect, or the sentence that stands instead. `state` sets how it is drawn."""

    state: str  # own | thin | withheld
    amount: str = ""
    grams: str = ""
    expect: str = ""
    top: str = ""
    look_again: str = ""
    instead: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """Its strings from top to bottom, empty ones left out."""
        first = f"{self.amount}  {self.grams}".strip()
        return tuple(line for line in (first, self.expect, self.top, self.look_again, self.instead) if line)


class BandFace(Lines):
    """A column. `instead` is the sentence that fills it where the whole band is withheld."""

    name: str
    hours: str
    state: str
    measured: str
    instead: str


class RowFace(Lines):
    reading: str
    condition: str
    cells: tuple[CellFace, ...]


class PageFace(Lines):
    """One page's columns; a person with more bands than fit side by side has several."""

    part: str  # "" where there is one page
    bands: tuple[BandFace, ...]
    rows: tuple[RowFace, ...]


class Below54Face(Lines):
    reading: str
    amount: str
    grams: str
    plan: str
    finger: str


class CardFace(Lines):
    """The whole card in words."""

    language: str
    document: str
    title: str
    tag: str  # "For school" or ""
    name: str
    born: str
    source: str
    source_name: str
    source_notes: str
    source_care: str  # a caution that belongs to this form of glucose; "" for none
    first_only: str  # or that there are no amounts at all
    made: str
    until: str
    approved: str  # for the school; "" on a card for home
    reading: str  # heading of the column of readings
    unit: str
    below_54: Below54Face
    pages: tuple[PageFace, ...]
    no_early: str
    finer: str
    alt: str
    notes: Notes
    footer: str
    cut_fold: str


def face_of(view: CardView) -> CardFace:
    """All words of one card."""
    words = words_for(view.language, view.unit, "UTC")
    pages = _pages(view, words)
    return CardFace(
        language=words.language,
        document=words.say("on_card.document", number=str(view.number), name=view.name or view.person_id),
        title=words.say("on_card.title", number=str(view.number)),
        tag=words.say("on_card.school") if view.for_school else "",
        name=view.name or words.say("on_card.no_name"),
        born=words.say("on_card.born", day=words.day(view.born, "medium")),
        source=_source(view, words),
        source_name=view.source.name,
        source_notes=_source_notes(view, words),
        source_care=" ".join(words.say(f"caution.{code}") for code in view.source_cautions),
        first_only=words.say("on_card.first_only" if view.has_amounts else "on_card.no_amounts"),
        made=words.say("on_card.made", day=words.day(view.made_on, "medium")),
        until=words.say("on_card.until", day=words.day(view.valid_until, "medium")),
        approved=approval(view, words) if view.for_school else "",
        reading=words.say("on_card.reading"),
        unit=view.unit,
        below_54=_below_54(view, words),
        pages=pages,
        no_early=_no_early(view, words),
        finer=words.say("on_card.finer", source=view.finer_source) if view.finer_source else "",
        alt=words.say("on_card.alt_table", rows=_told(pages)),
        notes=notes_of(view, words),
        footer=words.say("on_card.footer", model=view.model_version, day=words.day(view.as_of_utc.date(), "medium")),
        cut_fold=words.say("on_card.cut_fold"),
    )


def approval(view: CardView, words: Words) -> str:
    """Who approved the care plan, and when; 'not approved' where nobody did. Nobody has seen a card made since."""
    if not view.plan.approved_by:
        return words.say("on_card.not_approved")
    if view.plan.approved_on is None:
        return words.say("on_card.approved_undated", by=view.plan.approved_by)
    return words.say("on_card.approved", by=view.plan.approved_by, day=words.day(view.plan.approved_on, "medium"))


def reading(value: float, view: CardView, words: Words) -> str:
    """A reading that is already in the person's unit, written as the reader shows it."""
    return words.number(value, 0 if view.unit == GlucoseUnit.MG_DL else 1)


def exactly(grams: float, words: Words) -> str:
    """Grams with up to two decimals: the strength of a piece is told as it is, not rounded to what doubt bears."""
    return str(format_decimal(grams, "#,##0.##", locale=words.locale))


def amount(units: int, view: CardView, words: Words) -> str:
    """'4 pieces' or '15 mL'."""
    return words.say("on_card.piece" if view.source.unit == "piece" else "on_card.ml", count=units)


def _source(view: CardView, words: Words) -> str:
    strength = view.source.glucose_per_unit_g
    if strength is None:
        return words.say("on_card.source.unknown")
    if view.source.unit == "piece":
        return words.say("on_card.source.piece", grams=exactly(strength, words))
    code = "gel" if view.source.form == "gel" else "ml"
    return words.say(f"on_card.source.{code}", grams=exactly(10 * strength, words))


def _source_notes(view: CardView, words: Words) -> str:
    codes = ["weaker"] if view.source.may_be_weaker else []
    if view.source.form == "liquid" and not view.source.sealed:
        codes.append("home_mixed")
    return "; ".join(words.say(f"on_card.source.{code}") for code in codes)


def _below_54(view: CardView, words: Words) -> Below54Face:
    plan, grams = view.plan, ""
    if plan.below_54_grams is not None:
        grams = words.say("on_card.grams", grams=exactly(plan.below_54_grams, words))
    counted = amount(plan.below_54_amount, view, words) if plan.below_54_amount is not None else ""
    return Below54Face(
        reading=words.say("on_card.below", level=reading(view.below_54_shown, view, words)),
        amount=counted or grams,
        grams=grams if counted else "",
        plan=words.say("on_card.below_54.plan" if grams else "on_card.below_54.no_plan"),
        finger=words.say("on_card.below_54.finger"),
    )


def _pages(view: CardView, words: Words) -> tuple[PageFace, ...]:
    starts = range(0, len(view.bands), BANDS_ON_A_PAGE)
    return tuple(
        PageFace(
            part=words.say("on_card.page", part=n, parts=len(starts)) if len(starts) > 1 else "",
            bands=tuple(_band(band, view, words) for band in view.bands[at : at + BANDS_ON_A_PAGE]),
            rows=tuple(_row(row, slice(at, at + BANDS_ON_A_PAGE), view, words) for row in view.rows),
        )
        for n, at in enumerate(starts, start=1)
    )


def _band(band: BandView, view: CardView, words: Words) -> BandFace:
    return BandFace(
        name=words.band(band.name),
        hours=band.hours.replace("-", "–"),
        state=band.state,
        measured=words.say(
            f"on_card.state.{band.state}", **({"count": band.treatments_n} if band.state == "own" else {})
        ),
        instead=withheld(band.reasons[0], view, words) if band.reasons else "",
    )


def withheld(code: str, view: CardView, words: Words) -> str:
    """The sentence that stands where an amount would."""
    years = {"under_2": view.rules.youngest_years, "no_pieces_under_4": view.rules.pieces_from_years}
    values = {"years": years[code]} if code in years else {}
    return words.say(f"on_card.withheld.{code}", **values)


def _row(row: RowView, chosen: slice, view: CardView, words: Words) -> RowFace:
    low, high = (reading(value, view, words) for value in (row.shown_from, row.shown_to))
    return RowFace(
        reading=words.say("on_card.range", low=low, high=high),
        condition=words.say("on_card.early") if row.early else "",
        cells=tuple(_cell(cell, view, words) for cell in row.cells[chosen]),
    )


def _cell(cell: CellView, view: CardView, words: Words) -> CellFace:
    if cell.amount is None or cell.grams is None or cell.expect_low_mg_dl is None or cell.expect_high_mg_dl is None:
        return CellFace(state=cell.state, instead=withheld(cell.reason, view, words))
    low, high = words.level(cell.expect_low_mg_dl), words.level(cell.expect_high_mg_dl)
    minutes = round(view.rules.expect_minutes)
    return CellFace(
        state=cell.state,
        amount=amount(cell.amount, view, words),
        grams=words.say("on_card.grams", grams=exactly(cell.grams, words)),
        expect=words.say("on_card.expect", low=low, high=high, minutes=minutes),
        top=words.say("on_card.top", minutes=minutes, top=cell.top_minutes or 0),
        look_again=words.say("on_card.look_again") if cell.look_again else "",
    )


def _no_early(view: CardView, words: Words) -> str:
    last = view.rows[-1]
    step = view.rules.shown_step(GlucoseUnit(view.unit))
    return words.say("on_card.no_early", level=reading(last.shown_to + step, view, words))


def _told(pages: tuple[PageFace, ...]) -> str:
    """The table read aloud, for who cannot see it."""
    return " ".join(
        f"{row.reading}, {band.name} {band.hours}: {'; '.join(cell.lines)}."
        for page in pages
        for row in page.rows
        for band, cell in zip(page.bands, row.cells, strict=True)
    )
