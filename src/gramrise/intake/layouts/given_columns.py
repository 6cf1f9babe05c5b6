"""Which columns hold glucose given: grams, an amount beside a source, or amounts in words."""

import re

from gramrise.connectors.layout import GlucoseGiven, Part
from gramrise.domain.sources import Source
from gramrise.intake.cells import form_named, product_named, source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.labels import AMOUNT
from gramrise.intake.layouts.amount_headers import is_running_sum, sum_open, weighs_the_product
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.layouts.dose_checks import holds_dose_units
from gramrise.intake.words import HeaderWords, folded


def given_parts(columns: list[ColumnProfile], titled: set[str], context: ReadContext, evidence: Evidence) -> list[Part]:
    """Glucose given: grams, an amount beside a source, or amounts in words."""
    sources = context.person.sources_now()
    source = next((column.name for column in columns if _is_source(column) or _names_sources(column, sources)), "")
    form = next((column for column in columns if "form" in column.meanings and column.holds == "text"), None)
    parts: list[Part] = []
    for column in columns:
        if column.holds not in {"number", "text"} or column.quantity not in {"given", AMOUNT}:
            continue
        if column.name == source and len(columns) > 1 and _names_sources(column, sources):
            continue
        if column.holds == "text" and holds_dose_units(column, context.words) and column.name != source:
            continue  # it says what the numbers beside it count
        form_name = form.name if form is not None else ""
        if is_running_sum(column, context.words):
            evidence.open.append(sum_open(column))
            continue
        if weighs_the_product(column, context.words):
            evidence.open.append(_of_what(column, context))
            continue
        if column.in_grams and product_named(column.label, sources, context.words):
            evidence.open.append(_of_what(column, context))
            continue
        if column.holds == "number" and column.in_grams:
            parts += _in_grams(column, columns, source, form, titled, context, evidence)
        else:
            parts += _amount(column, columns, source, form_name, context, evidence)
    if not parts and len(columns) == 1 and source and amounts_in_words(columns[0].examples, context.words):
        evidence.prove(f"'{columns[0].label}' is glucose given", f"amounts such as '{columns[0].examples[0]}'")
        return [GlucoseGiven(kind="doses", text=source)]
    return parts


def _is_source(column: ColumnProfile) -> bool:
    return "source" in column.meanings and column.holds == "text" and not column.said.unknown


def _names_sources(column: ColumnProfile, sources: tuple[Source, ...]) -> bool:
    """Whether all its cells are names of sources of this person, whatever its header says: 'what was given'."""
    said = column.meanings & {"source", "given", "form", "glucose_source"}
    return bool(said) and column.holds == "text" and all(source_named(text, sources) for text in column.examples)


def _in_grams(
    column: ColumnProfile,
    columns: list[ColumnProfile],
    source: str,
    form: ColumnProfile | None,
    titled: set[str],
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """Grams are glucose where header, title, form or source say so, and nothing speaks of what food holds."""
    form_name = form.name if form is not None else ""
    named = next((other for other in columns if other.name == source), None)
    known = named is not None and all(source_named(text, context.person.sources_now()) for text in named.examples)
    formed = form is not None and all(form_named(text, context.words).value != "unknown" for text in form.examples)
    food = any(other.meanings & {"nutrition", "food", "carbs"} for other in columns)
    if (column.quantity == "given" or "given" in titled or formed or known) and not food:
        evidence.prove(f"'{column.label}' is glucose given, in grams", "its header and what stands beside it say so")
        own = {source, column.name}
        counted = any(one.quantity in {"given", AMOUNT} and one.name not in own for one in columns)
        if known and not counted:  # beside pieces the grams say the same of one dose
            evidence.prove(f"'{named.label if named else source}' says of what", "it names sources of this person")
            return [GlucoseGiven(kind="doses", amount=column.name, source=source, form=form_name, amount_unit="gram")]
        return [GlucoseGiven(kind="doses", grams=column.name, form=form_name)]
    evidence.open.append(_kind_open(column, named, context))
    return []


def _amount(
    column: ColumnProfile,
    columns: list[ColumnProfile],
    source: str,
    form: str,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    worded = amounts_in_words(column.examples, context.words)
    named = next((other for other in columns if other.name == source), None)
    sources = context.person.sources_now()
    unit = column.said.unit if column.said.unit in {"piece", "ml", "gram"} else "gram" if column.in_grams else ""
    if named is not None and any(source_named(text, sources) for text in named.examples):
        evidence.prove(f"'{column.label}' is glucose given", f"'{named.label}' names sources of this person")
        return [GlucoseGiven(kind="doses", amount=column.name, source=source, form=form, amount_unit=unit)]  # type: ignore[arg-type]
    of_header = [source for source in sources if column.holds == "number" and _names(column.label, source)]
    if of_header:
        return _of_header(column, of_header, named, form, context, evidence)
    if unit and column.quantity == "given" and column.holds == "number":
        evidence.prove(f"'{column.label}' is glucose given", "its header names glucose and what is counted")
        return [_headed(column, unit, form, context)]
    if worded:
        evidence.prove(f"'{column.label}' is glucose given", f"amounts such as '{column.examples[0]}'")
        beside = named is not None and named is not column and named.holds == "text"
        if beside and named is not None:
            evidence.prove(f"'{named.label}' says of what", "its header says so")
        told = {"amount": column.name, "source": source} if beside else {"text": column.name}
        return [GlucoseGiven.model_validate({"kind": "doses", "form": form, "amount_unit": unit, **told})]
    if "given" in column.meanings and "dose" not in column.meanings:
        evidence.prove(f"'{column.label}' is glucose given", "its header says so; what a bare number counts is asked")
        return [GlucoseGiven(kind="doses", text=column.name, form=form)]
    evidence.open.append(_kind_open(column, named, context))
    return []


def _of_header(
    column: ColumnProfile,
    of_header: list[Source],
    named: ColumnProfile | None,
    form: str,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """Amounts of the source that the header names; several, or one counted in another unit, stay open."""
    source = of_header[0]
    if len(of_header) > 1 or column.said.unit not in {"", source.unit.value.lower()}:
        evidence.open.append(_kind_open(column, named, context))
        return []
    evidence.prove(f"'{column.label}' is glucose given", f"its header names the source '{source.name}'")
    return [GlucoseGiven(kind="doses", amount=column.name, source_is=source.name, form=form)]


def _names(label: str, source: Source) -> bool:
    """Whether a header holds the name of a source as words of its own: 'Pieces of candy'."""
    words = f" {re.sub(r'[^0-9a-z]+', ' ', folded(label)).strip()} "
    return any(
        f" {re.sub(r'[^0-9a-z]+', ' ', folded(name)).strip()} " in words
        for name in source.names
        if any(letter.isalpha() for letter in name)
    )


def _headed(column: ColumnProfile, unit: str, form: str, context: ReadContext) -> GlucoseGiven:
    """'Traubenzucker (Stück)': pieces of the source that the header names, else of the person's only one in pieces."""
    outside = re.sub(r"[(\[{].{0,40}?[)\]}]", " ", column.label)
    source = source_named(outside.strip(), context.person.sources_now())
    if source is None:
        return GlucoseGiven(kind="doses", text=column.name, form=form, amount_unit=unit)  # type: ignore[arg-type]
    return GlucoseGiven(
        kind="doses", amount=column.name, source_is=source.name, form=form, amount_unit=unit,  # type: ignore[arg-type]
    )  # fmt: skip


def _of_what(column: ColumnProfile, context: ReadContext) -> OpenPoint:
    """Grams of a gel, a syrup, a drink, a tablet: 10 g of a 40 % gel hold 4 g of glucose."""
    product = product_named(column.label, context.person.sources_now(), context.words) or "product"
    return OpenPoint(
        "glucose_or_product",
        f"'{column.label}' may count grams of glucose, or what the {product} weighs",
        "write the grams of glucose under a header that says so, as 'glucose given (g)', or the pieces or mL",
        ("grams of glucose",),
        (f'kind = "doses"\ngrams = "{column.name}"',),
    )


def _kind_open(column: ColumnProfile, named: ColumnProfile | None, context: ReadContext) -> OpenPoint:
    """Numbers of something: grams, insulin, food, or amounts of what a column beside them names."""
    readings = ["glucose given, in grams", "units of insulin", "grams of carbohydrate"]
    lines = [f'kind = "doses"\ngrams = "{column.name}"', f'kind = "insulin"\nunits = "{column.name}"',
             f'kind = "food"\ngrams = "{column.name}"']  # fmt: skip
    mend = "say so under [[brings]] in a layout"
    for source in context.person.sources_now():
        if column.holds == "number" and column.said.unit in {"", source.unit.value.lower()}:
            readings.append(f"glucose given: {source.name}, in {source.unit.value}")
            lines.append(f'kind = "doses"\namount = "{column.name}"\nsource_is = "{source.name}"')
    if named is not None and named.holds == "text":
        word = named.examples[0]
        readings = [f"glucose given, amounts of what '{named.label}' names", *readings]
        lines = [f'kind = "doses"\namount = "{column.name}"\nsource = "{named.name}"', *lines]
        person = context.person.person_id
        mend = (
            f"if '{word}' is glucose, state its strength: gramrise person source {person} '{word}' --help; else {mend}"
        )
    return OpenPoint(
        "dose_kind_open",
        f"nothing says what the numbers under '{column.label}' are amounts of",
        mend,
        tuple(readings),
        tuple(lines),
    )


def amounts_in_words(texts: tuple[str, ...], words: HeaderWords) -> bool:
    """Whether most texts hold a number and a word for pieces, mL, grams or bottles."""
    units = {folded(word) for kind in ("piece", "ml", "gram", "bottle") for word in words.amounts[kind]}

    def worded(text: str) -> bool:
        plain = "".join(mark if mark.isalpha() else " " for mark in folded(text))
        return any(mark.isdigit() or mark in "½¼¾" for mark in text) and bool(units & set(plain.split()))

    return bool(texts) and sum(map(worded, texts)) * 2 > len(texts)


def amounts_without_header(columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> list[Part]:
    """No header: amounts in words say themselves what they are; numbers alone never do."""
    numbers = [column for column in columns if column.holds == "number"]
    texts = [
        column for column in columns if column.holds == "text" and amounts_in_words(column.examples, context.words)
    ]
    if not numbers and len(texts) == 1:
        evidence.prove(f"'{texts[0].label}' is glucose given", f"amounts such as '{texts[0].examples[0]}'")
        return [GlucoseGiven(kind="doses", text=texts[0].name)]
    return []
