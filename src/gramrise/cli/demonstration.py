"""`gramrise demo`: the sample families walked the whole way, from their files to their written reports."""

import json
import shutil
import tomllib
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.cli import tables
from gramrise.cli.mixture_sentences import batch_words
from gramrise.config.private_files import private_folder
from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.counts import StockCount
from gramrise.domain.findings import Findings
from gramrise.domain.frames import READINGS
from gramrise.domain.mixtures import Powder
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery, Outcome
from gramrise.nightly import (
    SignOff,
    ask_about_unlogged,
    run_person,
    sign_reference,
    stock_lines,
    take_in_file,
    view_of_week,
    write_report,
    write_review,
)
from gramrise.place import way_words
from gramrise.report import import_sentence, screen_words, stock_sentence
from gramrise.store import Store
from gramrise.supplies import recipe_for, supplies_settings, trusted_strength

# The folder made by an earlier demo carries this file, so that nothing else is ever cleared away.
MARK = ".made-by-gramrise-demo"
LOWS_SHOWN = 8
# A bottle that a family mixes for a week, mL, and the pieces that are left when they run low.
BOTTLE_ML = 500.0
LAST_PIECES = 12.0
# How long ago the demo's reference was signed, days: half of the sample's weeks lie after it.
SIGNED_DAYS_AGO = 35


@dataclass(frozen=True, slots=True)
class Family:
    """One person of `people.toml` and where their files lie."""

    person: Person
    files: tuple[Path, ...]


def run_demo(folder: Path, samples: Path | None = None) -> None:
    """Fills `folder` anew: imports, findings and reports of the sample families, all printed on the way.

    samples  folder like sample_exports; None: the one that is part of the package
    The clock of the demo stands an hour after the last reading, so that it shows the same on every day.
    """
    _cleared(folder)
    with as_file(files("gramrise") / "sample_exports") as shipped, Store.open(folder / "home") as store:
        source = samples or shipped
        truth = json.loads((source / "truth.json").read_text("utf-8"))["persons"]
        ends = [_walk(store, family, folder, truth[family.person.person_id]) for family in read_families(source)]
        first_page, _ = write_review(store, store.persons(), max(ends), folder / "home", folder / "review")
        tables.say(f"\nWhat a clinic sees: wrote {first_page}")
    tables.say(
        "Invented families; no such persons exist. "
        "Not certified as a medical device: use it only as agreed with your care team."
    )


def read_families(samples: Path) -> list[Family]:
    """The families of a sample folder, in the order of its people.toml."""
    told = tomllib.loads((samples / "people.toml").read_text("utf-8"))
    return [
        Family(_person(entry), tuple(samples / entry["folder"] / name for name in entry["files"]))
        for entry in told["person"]
    ]


def _walk(store: Store, family: Family, folder: Path, truth: dict[str, Any]) -> datetime:
    """One family from files to report; the instant at which the demo's clock stood."""
    person = family.person
    store.save_person(person)
    tables.say(f"\n{person.name}")
    now = datetime.now(ZoneInfo("UTC"))
    for file in family.files:
        for taken in take_in_file(store, folder / "home", person, file, now).summaries:
            tables.say("  " + import_sentence(taken, screen_words("en")))
    inputs = store.inputs(person.person_id)
    last = READINGS.check(inputs.readings)["at_utc"].max()
    assert isinstance(last, datetime)
    now = last + timedelta(hours=1)
    _mix_and_count(store, person, last, folder / "home")
    found = run_person(store, person.person_id, now, folder / "home")
    _show_lows(person, found)
    _show_factors(person, found, truth)
    _show_supplies(store, person, now, folder / "home")
    view = view_of_week(store, person.person_id, None, now, folder / "home")
    for written in write_report(view, folder / "reports"):
        tables.say(f"wrote {written}")
    _sign(store, person, now, folder / "home")
    return now


def _sign(store: Store, person: Person, now: datetime, home: Path) -> None:
    """Whoever approved the family's plan signs the number of a day half way, so that the review has a reference."""
    plan = person.care_plan.latest()
    if plan is None or plan.approved_on is None:
        return
    half_way = now.date() - timedelta(days=SIGNED_DAYS_AGO)
    said = SignOff(plan.approved_by, plan.approved_role, as_of=half_way, told="the parents")
    signed = sign_reference(store, person.person_id, said, now, home)
    tables.say(f"Signed by {signed.signed_by}: the number of {signed.as_of.isoformat()}. Invented, as all of this is.")


def _mix_and_count(store: Store, person: Person, now: datetime, home: Path) -> None:
    """The family mixes its bottle anew after the last reading, and counts its pieces, which run low."""
    rules = supplies_settings(home)
    for source in person.sources_now():
        if source.unit is AmountUnit.PIECE:
            store.supplies.keep_stock_count(person.person_id, StockCount(source.name, now, LAST_PIECES))
            continue
        recipe = recipe_for(source.glucose_per_unit_g, BOTTLE_ML, Powder.MONOHYDRATE, rules)
        made = replace(recipe.mixture, weighed_g=float(round(recipe.solution.total_g)))
        store.supplies.keep_batch(person.person_id, source.name, now, made, trusted_strength(made, rules))
        what = batch_words(made, screen_words("en"))
        tables.say(f"  {source.name} mixed: {what}, {10 * recipe.solution.strength_g_per_ml:.2f} g in 10 mL.")


def _show_supplies(store: Store, person: Person, now: datetime, home: Path) -> None:
    """What tins show gone, and what is on hand."""
    placed = ask_about_unlogged(store, person, now, home)
    gone = [each for each in placed if each.laid is not None]
    if placed:
        tables.say(f"\n{len(placed)} counts of a tin; where more is gone than is logged, it is asked about:")
    for each in gone:
        assert each.laid is not None  # chosen so
        tables.say_line(
            f"  {tables.local(each.count.from_utc, person)}: {each.pieces_untimed} of {each.count.pieces_gone} pieces "
            f"not logged; likeliest {way_words(each, each.laid.layings[0], person)}"
        )
    for line in stock_lines(store, person.person_id, now, home):
        tables.say(stock_sentence(line))


def _show_lows(person: Person, found: Findings) -> None:
    """The latest lows for which glucose was given and written down."""
    treated = found.lows.filter(pl.col("outcome") == Outcome.TREATED)
    unit = person.unit
    tables.show(
        f"\n{found.lows.height} lows, {treated.height} of them treated and written down; the latest of these, {unit}",
        [
            ("began", "time"),
            ("lowest", "right"),
            ("lasted, min", "right"),
            ("glucose, g", "right"),
            ("back at 70, min" if unit is GlucoseUnit.MG_DL else "back at 3.9, min", "right"),
        ],
        [
            (
                tables.local(row["start_utc"], person),
                tables.level(row["nadir_mg_dl"], person),
                tables.minutes_between(row["start_utc"], row["end_utc"], "open"),
                tables.grams(row["grams"], person),
                "-" if row["minutes_to_70"] is None else f"{row['minutes_to_70']:.0f}",
            )
            for row in treated.tail(LOWS_SHOWN).to_dicts()
        ],
        empty="No treated lows found.",
    )


def _show_factors(person: Person, found: Findings, truth: dict[str, Any]) -> None:
    hours = {band.name: band.hours for band in person.bands_now()}
    unit = person.unit
    tables.show(
        f"1 g of glucose raises {person.name} about ... {unit}",
        [
            ("time band", "left"),
            ("about", "right"),
            ("likely", "right"),
            ("pairings", "right"),
            ("weight table", "right"),
            ("truth", "right"),
        ],
        [
            (
                f"{row['band']} {hours[row['band']]}",
                tables.per_gram(row["factor_mg_dl_per_g"], person),
                f"{tables.per_gram(row['p05_factor_mg_dl_per_g'], person)}-"
                f"{tables.per_gram(row['p95_factor_mg_dl_per_g'], person)}",
                str(row["pairings_used"]),
                tables.per_gram(row["starting_mg_dl_per_g"], person),
                tables.per_gram(truth[row["band"]]["true_factor_mg_dl_per_g"], person),
            )
            for row in found.factors.to_dicts()
        ],
        empty="Nothing can be said.",
    )


def _person(entry: dict[str, Any]) -> Person:
    since: date = entry["since"]
    sources = tuple(
        Source(
            name=told["name"],
            form=Form(told["form"]),
            grams_per_piece=told.get("grams_per_piece"),
            grams_per_ml=told.get("grams_per_ml"),
            stated_as=StatedAs(told["stated_as"]),
            sealed=told["sealed"],
            other_names=tuple(told["other_names"]),
        )
        for told in entry["sources"]
    )
    return Person(
        person_id=entry["id"],
        name=entry["name"],
        born=entry["born"],
        sex=entry["sex"],
        zone=Dated(((since, ZoneInfo(entry["zone"])),)),
        unit=GlucoseUnit(entry["unit"]),
        language=entry["language"],
        weights_kg=Dated(tuple((weighed["on"], weighed["kg"]) for weighed in entry["weights"])),
        delivery=Dated(((since, Delivery(entry["delivery"])),)),
        sources=Dated(((since, sources),)),
        care_plan=_plan(entry),
    )


def _plan(entry: dict[str, Any]) -> Dated[CarePlan]:
    """The family's invented care plan, from the day of its approval."""
    told: dict[str, Any] | None = entry.get("plan")
    if told is None:
        return Dated()
    school = SchoolPlan(**_frozen(told["school"]))
    plan = CarePlan(**_frozen({name: value for name, value in told.items() if name != "school"}), school=school)
    return Dated(((told["approved_on"], plan),))


def _frozen(told: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in told.items()}


def _cleared(folder: Path) -> None:
    """An empty demo folder; refuses a folder that an earlier demo did not make."""
    if folder.exists():
        if any(folder.iterdir()) and not (folder / MARK).exists():
            raise WrongUse(f"'{folder}' holds something else", "name a new folder: gramrise demo DIR")
        shutil.rmtree(folder)
    private_folder(folder)
    (folder / MARK).write_text("Everything here was made by `gramrise demo` and may be deleted.\n", "utf-8")
