"""gramrise readings | lows | treatments | pairings | factors | predictions: what is stored and found."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gramrise.cli.context import Household

if TYPE_CHECKING:
    import polars as pl

    from gramrise.domain.findings import Findings
    from gramrise.domain.person import Person

PersonOption = Annotated[str | None, typer.Option("--person", help="Whose; may be left out when there is only one.")]
JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document, described by `gramrise schema`.")]
CourseOption = Annotated[bool, typer.Option("--course", help="How soon the rise comes and how long it lasts instead.")]
DaysOption = Annotated[
    int | None, typer.Option("--days", min=1, help="Only the last N days up to the latest reading or dose.")
]


def register(app: typer.Typer) -> None:
    for command in (readings, lows, treatments, pairings, factors, predictions):
        app.command()(command)


def readings(
    context: typer.Context, person: PersonOption = None, days: DaysOption = None, as_json: JsonOption = False
) -> None:
    """The sensor readings that are stored."""
    from gramrise.cli import tables
    from gramrise.report import screen_words

    house: Household = context.obj
    who = house.person(person)
    house.note_look("readings", who)
    since = _since(house, who, days)
    frame = _from(house.store.readings(who.person_id, since), "at_utc", since)
    if as_json:
        from gramrise.cli import documents

        print(documents.document("readings", frame))
        return
    words = screen_words(who.language)
    marks = {"below": words.say("readings.below"), "above": words.say("readings.above"), "in": ""}
    tables.show(
        words.say("readings.title", person=who.person_id, unit=str(who.unit)),
        [(words.say("readings.when"), "time"), (words.say("readings.level"), "right"), ("", "left")],
        [
            (tables.local(row["at_utc"], who), tables.level(row["glucose_mg_dl"], who), marks[row["range"]])
            for row in frame.iter_rows(named=True)
        ],
        empty=words.say("readings.none"),
    )


def lows(
    context: typer.Context, person: PersonOption = None, days: DaysOption = None, as_json: JsonOption = False
) -> None:
    """The lows that were found, whether they were treated, and how sure that is."""
    from gramrise.cli import tables
    from gramrise.report import outcome_words, screen_words

    who, found = _findings(context.obj, person, "lows")
    frame = _from(found.lows, "start_utc", _since(context.obj, who, days))
    if as_json:
        from gramrise.cli import documents

        print(documents.document("lows", frame))
        return
    words = screen_words(who.language)
    tables.show(
        words.say("lows.title", person=who.person_id, unit=str(who.unit)),
        [
            (words.say("lows.began"), "time"),
            (words.say("lows.lowest"), "right"),
            (words.say("lows.minutes"), "right"),
            (words.say("lows.level"), "right"),
            ("g", "right"),
            (words.say("lows.what"), "left"),
        ],
        [
            (
                tables.local(row["start_utc"], who),
                tables.level(row["nadir_mg_dl"], who),
                tables.minutes_between(row["start_utc"], row["end_utc"], words.say("lows.open")),
                str(row["level"]),
                tables.grams(row["grams"], who),
                outcome_words(row["outcome"], row["probability_treated"], words),
            )
            for row in frame.iter_rows(named=True)
        ],
        empty=words.say("lows.none"),
    )


def treatments(
    context: typer.Context, person: PersonOption = None, days: DaysOption = None, as_json: JsonOption = False
) -> None:
    """Glucose given, chained into treatments."""
    from gramrise.cli import tables
    from gramrise.report import screen_words

    house: Household = context.obj
    who, found = _findings(house, person, "treatments")
    frame = _from(found.treatments, "first_dose_utc", _since(house, who, days))
    told = house.store.noticed(who.person_id)
    if as_json:
        import polars as pl

        from gramrise.cli import documents

        noticed = pl.Series("noticed", [_noticed(row, told) for row in frame.iter_rows(named=True)], pl.List(pl.String))
        print(documents.document("treatments", frame.with_columns(noticed)))
        return
    words = screen_words(who.language)
    column: list[tuple[str, tables.Justify]] = [(words.say("treatments.noticed"), "left")] if told else []
    tables.show(
        words.say("treatments.title", person=who.person_id),
        [
            (words.say("treatments.when"), "time"),
            (words.say("treatments.times"), "right"),
            ("g", "right"),
            (words.say("treatments.source"), "left"),
            (words.say("treatments.reason"), "left"),
            (words.say("treatments.band"), "left"),
            *column,
        ],
        [
            (
                tables.local(row["first_dose_utc"], who),
                str(row["doses_n"]),
                tables.grams(row["grams"], who),
                ", ".join(name or words.say(f"treatments.form.{row['form']}") for name in row["sources"]),
                words.say(f"treatments.class.{row['class']}"),
                tables.band(who, row["band"], row["first_dose_utc"]),
                *([", ".join(words.say(f"noticed.{who_did}") for who_did in _noticed(row, told))] if told else []),
            )
            for row in frame.iter_rows(named=True)
        ],
        empty=words.say("treatments.none"),
    )


def _noticed(treatment: dict[str, Any], told: list[tuple[datetime, str]]) -> list[str]:
    """Who noticed that a treatment was needed, in order of time; empty where nobody says."""
    first, last = treatment["first_dose_utc"], treatment["last_dose_utc"]
    return list(dict.fromkeys(who for at, who in told if first <= at <= last))


def pairings(
    context: typer.Context, person: PersonOption = None, days: DaysOption = None, as_json: JsonOption = False
) -> None:
    """Each treatment with the rise that followed, used or set aside with every reason."""
    from gramrise.cli import tables
    from gramrise.cli.sentences import reason_words
    from gramrise.report import screen_words

    who, found = _findings(context.obj, person, "pairings")
    frame = _from(found.pairings, "first_dose_utc", _since(context.obj, who, days))
    if as_json:
        from gramrise.cli import documents

        print(documents.document("pairings", frame))
        return
    words = screen_words(who.language)
    tables.show(
        words.say("pairings.title", person=who.person_id, unit=str(who.unit)),
        [
            (words.say("pairings.when"), "time"),
            ("g", "right"),
            (words.say("pairings.start"), "right"),
            (words.say("pairings.seen"), "right"),
            ("1 g", "right"),
            ("", "left"),
        ],
        [
            (
                tables.local(row["first_dose_utc"], who),
                tables.grams(row["grams"], who),
                tables.level(row["start_seen_mg_dl"], who),
                tables.level(row["rise_seen_mg_dl"], who),
                tables.per_gram(row["factor_mg_dl_per_g"], who) if row["verdict"] == "used" else "-",
                words.say("pairings.used" if row["verdict"] == "used" else "pairings.set_aside")
                + reason_words(row["reasons"], words),
            )
            for row in frame.iter_rows(named=True)
        ],
        empty=words.say("pairings.none"),
    )
    tables.say(words.say("pairings.seen_means"))
    tables.say(words.say("pairings.gram_means"))


def factors(
    context: typer.Context, person: PersonOption = None, course: CourseOption = False, as_json: JsonOption = False
) -> None:
    """How far 1 g of glucose raises this person, per time band, with honest doubt."""
    from gramrise.cli import tables
    from gramrise.cli.courses import show_courses
    from gramrise.cli.factor_sentences import lack_sentences
    from gramrise.estimate import estimate_settings
    from gramrise.report import screen_words

    house: Household = context.obj
    who, found = _findings(house, person, "factors", "courses", "pairings", "predictions")
    if course:
        show_courses(who, found, as_json)
        return
    if as_json:
        from gramrise.cli import documents

        print(documents.document("factors", found.factors))
        return
    words = screen_words(who.language)
    tables.show(
        words.say("factors.title", person=who.person_id, unit=str(who.unit)),
        [
            (words.say("factors.band"), "left"),
            (words.say("factors.about"), "right"),
            (words.say("factors.likely"), "right"),
            (words.say("factors.table"), "right"),
            (words.say("factors.used"), "right"),
            (words.say("factors.state"), "left"),
        ],
        [
            (
                _band_now(who, row["band"]),
                tables.per_gram(row["factor_mg_dl_per_g"], who),
                f"{tables.per_gram(row['p05_factor_mg_dl_per_g'], who)}-"
                f"{tables.per_gram(row['p95_factor_mg_dl_per_g'], who)}",
                tables.per_gram(row["starting_mg_dl_per_g"], who),
                str(row["pairings_used"]),
                words.say(f"state.{row['state']}"),
            )
            for row in found.factors.iter_rows(named=True)
        ],
        empty=words.say("factors.none"),
    )
    for sentence in lack_sentences(who, found, estimate_settings(house.home), words):
        tables.say(sentence)
    tables.say(words.say("factors.meaning"))


def _band_now(who: "Person", name: str) -> str:
    """'Overnight 22:00-07:00' in the person's language, with the hours it has now."""
    from gramrise.cli import tables

    hours = next((band.hours for band in who.bands_now() if band.name == name), "")
    return f"{tables.band_name(name, who)} {hours}".rstrip()


def predictions(context: typer.Context, person: PersonOption = None, as_json: JsonOption = False) -> None:
    """What was expected 30 and 45 minutes after each treatment, before it was learned from, and what came."""
    from gramrise.cli import tables
    from gramrise.report import screen_words

    who, found = _findings(context.obj, person, "predictions")
    if as_json:
        from gramrise.cli import documents

        print(documents.document("predictions", found.predictions))
        return
    words = screen_words(who.language)
    tables.show(
        words.say("predictions.title", person=who.person_id, unit=str(who.unit)),
        [
            (words.say("predictions.given"), "time"),
            (words.say("predictions.after"), "right"),
            (words.say("predictions.expected"), "right"),
            (words.say("predictions.likely"), "right"),
            (words.say("predictions.seen"), "right"),
        ],
        [
            (
                tables.local(row["first_dose_utc"], who),
                f"{row['minutes_after']} min",
                tables.level(row["predicted_mg_dl"], who),
                f"{tables.level(row['p05_mg_dl'], who)}-{tables.level(row['p95_mg_dl'], who)}",
                tables.level(row["seen_mg_dl"], who),
            )
            for row in found.predictions.iter_rows(named=True)
        ],
        empty=words.say("predictions.none"),
    )
    tables.say(words.say("predictions.meaning"))


def _findings(house: Household, named: str | None, *only: str) -> "tuple[Person, Findings]":
    """The person and the named frames of their findings, brought up to date where anything changed since."""
    from gramrise.nightly import current_findings

    who = house.person(named)
    house.note_look(only[0], who)
    return who, current_findings(house.store, who.person_id, house.now_utc(), house.home, only)


def _since(house: Household, who: "Person", days: int | None) -> datetime | None:
    """The instant `days` days before the data of a person end; None: all of it is wanted, or there is none."""
    last = house.store.last_data_at(who.person_id)
    return None if days is None or last is None else last - timedelta(days=days)


def _from(frame: "pl.DataFrame", column: str, since_utc: datetime | None) -> "pl.DataFrame":
    """Rows later than an instant; None: all of them."""
    return frame if since_utc is None else frame.filter(frame[column] > since_utc)
