"""gramrise review: the clinic's pages, as a folder, tables, one document or FHIR bundles."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.commands.findings import JsonOption
from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import Panel, PersonReview

LANGUAGES = ("en", "de")


def register(app: typer.Typer) -> None:
    app.command()(review)


def review(
    context: typer.Context,
    person: Annotated[str | None, typer.Argument(help="Whose; left out: everybody.")] = None,
    to: Annotated[Path | None, typer.Option("--to", metavar="DIR", help="Folder to write to.")] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Tables for a spreadsheet instead of pages.")] = False,
    as_fhir: Annotated[bool, typer.Option("--fhir", help="FHIR R4 transaction bundles instead of pages.")] = False,
    days: Annotated[
        int | None, typer.Option(min=1, help="Days of readings in a FHIR bundle; else as your settings say.")
    ] = None,
    language: Annotated[str | None, typer.Option(help="en or de; else that of the families.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Write the clinic review: who had dangerous lows, whose number moved, and all that it rests on."""
    house: Household = context.obj
    _check(to, [as_json, as_csv, as_fhir], days, as_fhir, language)
    people = house.store.persons() if person is None else [house.person(person)]
    if not people:
        raise WrongUse("nobody is known yet", "gramrise person add ID --born DATE --zone ZONE --weight-kg KG")
    for each in people:
        house.note_look("review", each)
    if as_json:
        _print_json(house, people, language)
    elif as_csv:
        assert to is not None  # checked
        _write_tables(house, people, to, language)
    elif as_fhir:
        assert to is not None
        _write_bundles(house, people, to, days)
    else:
        assert to is not None
        _write_pages(house, people, to, language, alone=person is not None)


def _check(to: Path | None, forms: list[bool], days: int | None, as_fhir: bool, language: str | None) -> None:
    if sum(forms) > 1:
        raise WrongUse(
            "a review is written in one form at a time", "one of --json, --csv and --fhir, or none for pages"
        )
    if to is None and not forms[0]:
        raise WrongUse(
            "no folder is named to write the review to", "gramrise review --to DIR, or --json to see it here"
        )
    if to is not None and to.exists() and not to.is_dir():
        raise WrongUse(f"'{to}' is a file", "name a folder: gramrise review --to DIR")
    if days is not None and not as_fhir:
        raise WrongUse("--days belongs to a FHIR bundle", "add --fhir, or leave --days out")
    if language is not None and language not in LANGUAGES:
        raise WrongUse(f"no words are written in '{language}'", "en or de")


def _gathered(house: Household, people: "Sequence[Person]", language: str | None) -> "tuple[Panel, list[PersonReview]]":
    """The panel and every review whole."""
    from gramrise.nightly import clinic_language, reviews_of

    found: list[PersonReview] = []
    spoken = language or clinic_language(people)
    return reviews_of(house.store, people, house.now_utc(), house.home, spoken, found.append), found


def _print_json(house: Household, people: "Sequence[Person]", language: str | None) -> None:
    from gramrise.report import Review

    panel, persons = _gathered(house, people, language)
    print(Review(panel=panel, persons=tuple(persons)).model_dump_json(indent=1))
    _end(panel)


def _write_pages(house: Household, people: "Sequence[Person]", to: Path, language: str | None, *, alone: bool) -> None:
    """The folder of pages; for one person their PDF, too."""
    from gramrise.cli import tables
    from gramrise.nightly import write_files, write_review
    from gramrise.report import PersonReview, review_pdf

    papers: list[Path] = []

    def print_it(one: PersonReview) -> None:
        papers.extend(write_files(to, [(f"person.{one.person_id}.pdf", review_pdf(one))]))

    first, panel = write_review(
        house.store, people, house.now_utc(), house.home, to, language, also=print_it if alone else None
    )
    for path in (first, *papers):
        tables.say(house.spoken(f"wrote {path}"))
    _end(panel)


def _write_tables(house: Household, people: "Sequence[Person]", to: Path, language: str | None) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import write_files
    from gramrise.report import pairings_table, panel_table

    panel, persons = _gathered(house, people, language)
    files = [("panel.csv", panel_table(panel))]
    files += [(f"pairings.{one.person_id}.csv", pairings_table(one)) for one in persons]
    for path in write_files(to, files):
        tables.say(house.spoken(f"wrote {path}"))
    _end(panel)


def _write_bundles(house: Household, people: "Sequence[Person]", to: Path, days: int | None) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import bundle_of, review_rules, write_files

    def bundles() -> Iterator[tuple[str, str]]:
        kept = days or review_rules(house.home).review.fhir_days
        for each in people:
            told = bundle_of(house.store, each.person_id, house.now_utc(), house.home, kept)
            yield f"{each.person_id}.fhir.json", told

    for path in write_files(to, bundles()):
        tables.say(house.spoken(f"wrote {path}"))


def _end(panel: "Panel") -> None:
    """Exit status 1 where somebody's review could not be made."""
    from gramrise.cli import tables

    if panel.could_not:
        tables.warn(f"No findings could be made for: {', '.join(panel.could_not)}. gramrise check says why.")
        raise typer.Exit(1)
