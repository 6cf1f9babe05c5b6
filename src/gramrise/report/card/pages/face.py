"""The card in words: every string on it, in the person's language; paper, picture and terminal print these."""

from pydantic import BaseModel, ConfigDict

from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.numbers.view import AmountView, BandView, CardView, CellView, RowView
from gramrise.report.card.pages.amount_words import exactly, pieces_near, reading, told
from gramrise.report.card.pages.cautions import Notes, notes_of
from gramrise.report.lack_words import still_learning
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
    near: str = ""  # the pieces nearest to the plan's grams, where no whole number comes close
    expect: str = ""
    top: str = ""
    look_again: str = ""
    instead: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """Its strings from top to bottom, empty ones left out."""
        first = f"{self.amount}  {self.grams}".strip()
        return tuple(line for line in (first, self.near, self.expect, self.top, self.look_again, self.instead) if line)


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
    near: str  # as of a cell
    plan: str
    finger: str


class SchoolFace(Lines):
    """What stands on the school's card in place of the table."""

    when: str
    amount: str
    grams: str
    below_54: str
    annex: str
    year: str
    authorised: str
    staff: str
    kit: str
    travels: str


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
    weighed: str
    until: str
    approved: str
    reading: str  # heading of the column of readings
    unit: str
    below_54: Below54Face
    pages: tuple[PageFace, ...]
    school: SchoolFace | None
    no_early: str
    finer: str
    alt: str
    notes: Notes
    footer: str
    cut_fold: str
    turn: str  # at the foot of the large card: the rest stands on its back


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
        first_only=words.say("on_card.first_only" if view.has_amounts or view.school else "on_card.no_amounts"),
        made=words.say("on_card.made", day=words.day(view.made_on, "medium")),
        weighed=_weighed(view, words),
        until=words.say("on_card.until", day=words.day(view.valid_until, "medium")),
        approved=approval(view, words),
        reading=words.say("on_card.reading"),
        unit=view.unit,
        below_54=_below_54(view, words),
        pages=pages,
        school=_school(view, words),
        no_early=_no_early(view, words) if view.rows else "",
        finer=words.say("on_card.finer", source=view.finer_source) if view.finer_source else "",
        alt=words.say("on_card.alt_table", rows=_read_aloud(pages)),
        notes=notes_of(view, words),
        footer=words.say("on_card.footer", model=view.model_version, day=words.day(view.as_of_utc.date(), "medium")),
        cut_fold=words.say("on_card.cut_fold"),
        turn=words.say("on_card.turn"),
    )


def approval(view: CardView, words: Words) -> str:
    """Who approved the care plan, when, and until when it holds; 'not approved' where nobody did."""
    plan = view.plan
    if not plan.approved_by or plan.approved_on is None or plan.valid_until is None:
        return words.say("on_card.not_approved")
    by = f"{plan.approved_by}, {plan.approved_role}" if plan.approved_role else plan.approved_by
    day, until = words.day(plan.approved_on, "medium"), words.day(plan.valid_until, "medium")
    return words.say("on_card.approved", by=by, day=day, until=until)


def _weighed(view: CardView, words: Words) -> str:
    if view.weighed_on is None or view.weighed_kg is None:
        return ""
    day = words.day(view.weighed_on, "medium")
    return words.say("on_card.weighed", kg=words.number(view.weighed_kg, 1), day=day)


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
    below = view.plan.below_54
    counted, grams = told(below, view, words) if below is not None else ("", "")
    return Below54Face(
        reading=words.say("on_card.below", level=reading(view.below_54_shown, view, words)),
        amount=counted,
        grams=grams,
        near="" if below is None else pieces_near(below, view, words, at_least=True),
        plan=words.say("on_card.below_54.plan" if counted else "on_card.below_54.no_plan"),
        finger=words.say("on_card.below_54.finger"),
    )


def _school(view: CardView, words: Words) -> SchoolFace | None:
    school = view.school
    if school is None:
        return None
    counted, grams = told(school.amount, view, words)
    until, begins = words.day(school.year_until, "medium"), words.day(school.year_from, "medium")
    day, expires = words.day(school.authorised_on, "medium"), words.day(school.kit_expires_on, "medium")
    safe = words.level(view.rules.safe_level_mg_dl)
    below = reading(view.below_54_shown, view, words)
    return SchoolFace(
        when=words.say("on_card.at_school.when", level=safe),
        amount=counted,
        grams=grams,
        below_54=words.say("on_card.at_school.below_54", level=below),
        annex=words.say("on_card.at_school.annex"),
        year=words.say("on_card.at_school.year", begins=begins, until=until),
        authorised=words.say("on_card.at_school.authorised", by=school.authorised_by_parent, day=day),
        staff=words.say("on_card.at_school.staff", names=", ".join(school.staff)),
        kit=words.say("on_card.at_school.kit", kit=school.kit, day=expires),
        travels=words.say("on_card.at_school.travels"),
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
        measured=_measured(band, words),
        instead=withheld(band.reasons[0], view, words) if band.reasons else "",
    )


def _measured(band: BandView, words: Words) -> str:
    if band.state == "own":
        number = words.factor(band.factor_mg_dl_per_g)[0] if band.factor_mg_dl_per_g is not None else ""
        return words.say("on_card.state.own", count=band.treatments_n, number=number)
    if band.state == "thin" and not band.lacks:
        return words.say("on_card.state.automated")
    return still_learning(band.lacks, band.name, words) if band.state == "thin" else words.say("on_card.state.withheld")


def withheld(code: str, view: CardView, words: Words) -> str:
    """The sentence that stands where an amount would, or why there is no card."""
    rules = view.rules
    years = {
        "under_2": rules.youngest_years,
        "no_pieces_under_4": rules.pieces_from_years,
        "unknown_pieces_under_5": rules.hard_sweets_from_years,
    }
    return words.say(
        f"on_card.withheld.{code}",
        **({"years": years[code]} if code in years else {}),
        person=view.person_id,
        source=view.source.name,
        days=rules.findings_within_days,
        level=reading(view.below_54_shown, view, words),
        day=words.day(view.weighed_on, "medium") if view.weighed_on is not None else "",
    )


def _row(row: RowView, chosen: slice, view: CardView, words: Words) -> RowFace:
    low, high = (reading(value, view, words) for value in (row.shown_from, row.shown_to))
    return RowFace(
        reading=words.say("on_card.range", low=low, high=high),
        condition=words.say("on_card.early") if row.early else "",
        cells=tuple(_cell(cell, view, words) for cell in row.cells[chosen]),
    )


def _cell(cell: CellView, view: CardView, words: Words) -> CellFace:
    if cell.grams is None:
        return CellFace(state=cell.state, instead=withheld(cell.reason, view, words))
    given = AmountView(grams=cell.grams, units=cell.amount)
    counted, grams = told(given, view, words)
    if cell.expect_low_mg_dl is None:
        near, plans = pieces_near(given, view, words), words.say("on_card.plans_amount")
        return CellFace(state=cell.state, amount=counted, grams=grams, near=near, expect=plans)
    assert cell.expect_high_mg_dl is not None  # all are expected, or none
    assert cell.top_minutes is not None
    low, high = words.level(cell.expect_low_mg_dl), words.level(cell.expect_high_mg_dl)
    minutes = round(view.rules.expect_minutes)
    return CellFace(
        state=cell.state,
        amount=counted,
        grams=grams,
        expect=words.say("on_card.expect", low=low, high=high, minutes=minutes),
        top=words.say("on_card.top", minutes=minutes, top=cell.top_minutes),
        look_again=words.say("on_card.look_again") if cell.look_again else "",
    )


def _no_early(view: CardView, words: Words) -> str:
    last = view.rows[-1]
    step = view.rules.shown_step(GlucoseUnit(view.unit))
    return words.say("on_card.no_early", level=reading(last.shown_to + step, view, words))


def _read_aloud(pages: tuple[PageFace, ...]) -> str:
    """The table read aloud, for who cannot see it."""
    return " ".join(
        f"{row.reading}, {band.name} {band.hours}: {'; '.join(cell.lines)}."
        for page in pages
        for row in page.rows
        for band, cell in zip(page.bands, row.cells, strict=True)
    )
