"""gramrise mix: the liquid mixed at home, from the recipe to the logged batch."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse
from gramrise.intake import clock_alone, instant_meant

if TYPE_CHECKING:
    from gramrise.cli.mixture_typed import Typed
    from gramrise.domain.mixtures import MixedBatch, Mixture
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords
    from gramrise.supplies import Recipe, SuppliesSettings

PersonOption = Annotated[str | None, typer.Option("--person", help="Whose; may be left out when there is only one.")]
Number = float | None


def register(app: typer.Typer) -> None:
    app.command()(mix)


def mix(
    context: typer.Context,
    name: Annotated[str | None, typer.Argument(help="What the family calls the liquid; left out: the batches.")] = None,
    person: PersonOption = None,
    powder: Annotated[str | None, typer.Option(help="monohydrate or anhydrous: it stands on the bag.")] = None,
    strength: Annotated[str | None, typer.Option(help="Wanted: '1.25 g per 5 mL'.")] = None,
    volume: Annotated[Number, typer.Option(help="Wanted: mL of finished liquid.")] = None,
    powder_g: Annotated[Number, typer.Option(help="Weighed in: grams of powder.")] = None,
    made_up_to: Annotated[Number, typer.Option(help="Filled with water up to the line of so many mL.")] = None,
    water: Annotated[Number, typer.Option(help="So many mL of water poured onto the powder.")] = None,
    weighed: Annotated[Number, typer.Option(help="Finished mixture on the scale, g, without the bottle.")] = None,
    citric_acid_mg: Annotated[Number, typer.Option(help="Only if you add it; the plain recipe has none.")] = None,
    ascorbic_acid_mg: Annotated[Number, typer.Option(help="Only if you add it.")] = None,
    done: Annotated[bool, typer.Option("--done", help="It is mixed: log the batch.")] = False,
    at: Annotated[str | None, typer.Option(help="When it was mixed, HH:MM or YYYY-MM-DD HH:MM; else now.")] = None,
    correct: Annotated[int | None, typer.Option(help="Number of a logged batch that was otherwise.")] = None,
    price_per_kg: Annotated[Number, typer.Option(help="What a kg of the powder costs.")] = None,
    shop_price: Annotated[Number, typer.Option(help="What 15 g of glucose ready to drink costs.")] = None,
    sheet: Annotated[bool, typer.Option("--sheet", help="Write step sheet and label as PDF.")] = False,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for it; else `reports` in the home.")] = None,
) -> None:
    """Work out a recipe, print its step sheet and label, log the batch."""
    from gramrise.cli import tables
    from gramrise.cli.mixture_sentences import recipe_lines
    from gramrise.cli.mixture_typed import Typed, recipe_typed
    from gramrise.cli.parse import source_name
    from gramrise.report import screen_words
    from gramrise.supplies import supplies_settings

    house: Household = context.obj
    who, rules = house.person(person), supplies_settings(house.home)
    typed = Typed(
        powder, strength, volume, powder_g, made_up_to, water, weighed, citric_acid_mg, ascorbic_acid_mg
    )  # fmt: skip
    if correct is not None:
        _correct(house, who, correct, typed, rules)
        return
    if name is None:
        _list(house, who, rules)
        return
    recipe = recipe_typed(typed, rules)
    words = screen_words(who.language)
    for line in recipe_lines(recipe, rules, words):
        tables.say(line)
    if price_per_kg is not None:
        _cost(recipe, price_per_kg, shop_price, rules, words)
    logged = _log(house, who, source_name(name), recipe.mixture, at, rules) if done else None
    if sheet:
        _write_sheet(house, who, source_name(name), recipe, logged, out)
    if logged is not None and logged.strength_g_per_ml is None:
        raise typer.Exit(1)
    if not done:
        tables.say(words.say("mix.not_logged"))


def _log(
    house: Household, who: "Person", name: str, mixture: "Mixture", at: str | None, rules: "SuppliesSettings"
) -> "MixedBatch":
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import telling_ended_cards
    from gramrise.cli.parse import on_an_earlier_day
    from gramrise.nightly import log_batch
    from gramrise.report import screen_words

    words = screen_words(who.language)
    mixed_at = instant_meant(at, who.zone, house.now_utc())
    with telling_ended_cards(house, who.person_id):
        batch = log_batch(house.store, who, name, mixture, mixed_at, house.now_utc(), rules)
    _tell_weight(mixture, rules, words)
    tables.say(words.say("mix.logged", number=batch.number, day=words.day(_last_day(who, batch, rules))))
    if at is not None and clock_alone(at) is not None and on_an_earlier_day(mixed_at, house.now_utc(), who):
        tables.say(words.say("give.yesterday"))
    return batch


def _tell_weight(mixture: "Mixture", rules: "SuppliesSettings", words: "ScreenWords") -> None:
    """The verdict of the scale, where it was asked."""
    from gramrise.cli import tables
    from gramrise.cli.mixture_sentences import weight_sentence
    from gramrise.supplies import weight_check

    check = weight_check(mixture, rules)
    if check is None:
        tables.warn(words.say("mix.not_weighed"))
    else:
        (tables.say if check.passed else tables.warn)(weight_sentence(check, words))


def _last_day(who: "Person", batch: "MixedBatch", rules: "SuppliesSettings") -> date:
    from gramrise.domain.person import zone_on

    mixed_on = batch.mixed_at_utc.astimezone(zone_on(who.zone, batch.mixed_at_utc)).date()
    return mixed_on + timedelta(days=rules.days_kept_cold)


def _correct(house: Household, who: "Person", number: int, typed: "Typed", rules: "SuppliesSettings") -> None:
    """Changes what was told otherwise of a logged batch; grams taken from it follow."""
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import telling_ended_cards
    from gramrise.cli.mixture_sentences import batch_words
    from gramrise.nightly import with_strength
    from gramrise.report import screen_words
    from gramrise.supplies import trusted_strength

    batch = next((each for each in house.store.supplies.batches(who.person_id) if each.number == number), None)
    if batch is None:
        raise WrongUse(f"there is no batch {number} of {who.person_id}", "gramrise mix lists the batches")
    mixture = _as_corrected(batch.mixture, typed)
    if mixture == batch.mixture:
        raise WrongUse("nothing of the batch was told otherwise", "add --powder, --powder-g, --made-up-to or --weighed")
    corrected = replace(batch, mixture=mixture, strength_g_per_ml=trusted_strength(mixture, rules))
    stated = with_strength(who, corrected.source, corrected.mixed_at_utc, corrected.strength_g_per_ml)
    with telling_ended_cards(house, who.person_id):
        house.store.supplies.correct_batch(corrected, now_utc=house.now_utc(), stated=stated)
    words = screen_words(who.language)
    _tell_weight(mixture, rules, words)
    strength = corrected.strength_g_per_ml
    told = words.say("mix.no_strength")
    if strength is not None:
        told = words.say("mix.in_10_ml", grams=words.number(10 * strength, 2))
    tables.say(words.say("mix.corrected", number=number, what=batch_words(mixture, words), strength=told))


def _as_corrected(mixture: "Mixture", typed: "Typed") -> "Mixture":
    from gramrise.cli.mixture_typed import powder_typed
    from gramrise.domain.mixtures import WaterBy

    if typed.strength is not None or typed.volume_ml is not None:
        raise WrongUse("a batch is corrected by what was weighed and poured", "--powder-g, --made-up-to or --water")
    changes: dict[str, object] = {}
    if typed.powder is not None:
        changes["powder"] = powder_typed(typed.powder)
    if typed.made_up_to_ml is not None:
        changes |= {"water_by": WaterBy.MADE_UP_TO, "ml": typed.made_up_to_ml}
    if typed.water_ml is not None:
        changes |= {"water_by": WaterBy.ADDED_TO, "ml": typed.water_ml}
    for key in ("powder_g", "weighed_g", "citric_acid_mg", "ascorbic_acid_mg"):
        if getattr(typed, key) is not None:
            changes[key] = getattr(typed, key)
    return replace(mixture, **changes)  # type: ignore[arg-type]


def _list(house: Household, who: "Person", rules: "SuppliesSettings") -> None:
    from gramrise.cli import tables
    from gramrise.cli.mixture_sentences import batch_words
    from gramrise.report import screen_words
    from gramrise.supplies import SHELF, VOMITING

    words = screen_words(who.language)
    tables.show(
        words.say("mix.title", person=who.person_id),
        [
            (words.say("mix.number"), "right"),
            (words.say("mix.what"), "left"),
            (words.say("mix.mixed"), "time"),
            (words.say("mix.made_of"), "left"),
            (words.say("mix.strength"), "right"),
        ],
        [
            (
                str(batch.number),
                batch.source,
                tables.local(batch.mixed_at_utc, who),
                batch_words(batch.mixture, words),
                words.say("mix.unknown")
                if batch.strength_g_per_ml is None
                else words.number(10 * batch.strength_g_per_ml, 2),
            )
            for batch in house.store.supplies.batches(who.person_id)
        ],
        empty=words.say("mix.none"),
    )
    tables.say(words.say("mix.shelf", days=rules.days_kept_cold))
    for entry in SHELF:
        good_for, mind = house.spoken(entry.good_for), house.spoken(entry.mind)
        tables.say_line(f"  {words.say(f'treatments.form.{entry.form}')}: {good_for}; {mind}.")
    tables.say(house.spoken(VOMITING))


def _cost(
    recipe: "Recipe", price_per_kg: float, shop_price: float | None, rules: "SuppliesSettings", words: "ScreenWords"
) -> None:
    from gramrise.cli import tables
    from gramrise.supplies import cost_for, saving_percent

    grams = rules.compared_grams
    own = cost_for(grams, price_per_kg, recipe.mixture.powder)
    told = {"grams": words.amount(grams), "own": words.number(own, 2)}
    if shop_price is None:
        tables.say(words.say("mix.cost", **told))
    else:
        shop, percent = words.number(shop_price, 2), saving_percent(own, shop_price)
        tables.say(words.say("mix.cost_beside", shop=shop, percent=percent, **told))


def _write_sheet(
    house: Household, who: "Person", name: str, recipe: "Recipe", logged: "MixedBatch | None", out: Path | None
) -> None:
    from gramrise.cli import tables
    from gramrise.config.private_files import write_whole
    from gramrise.config.settings import load
    from gramrise.domain.person import zone_on
    from gramrise.report import ReportSettings, mixing_pdf, mixing_view
    from gramrise.supplies import supplies_settings

    day = None
    if logged is not None:
        day = logged.mixed_at_utc.astimezone(zone_on(who.zone, logged.mixed_at_utc)).date()
    paper = load("report", ReportSettings, house.home).paper
    view = mixing_view(who, name, recipe, supplies_settings(house.home), day, paper)
    folder = out or house.home / "reports"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    plain = "".join(letter if letter.isalnum() else "-" for letter in name)
    path = folder / f"{who.person_id}-mixing-{plain}.pdf"
    write_whole(path, mixing_pdf(view, int(house.now_utc().timestamp())))
    tables.say(house.spoken(f"wrote {path}"))
