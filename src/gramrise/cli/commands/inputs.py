"""gramrise import | layouts | give | ask: what is told to us, and what only a person can say."""

from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.intake import instant_meant

if TYPE_CHECKING:
    from gramrise.domain.batch import Batch, ImportSummary
    from gramrise.domain.person import Person
    from gramrise.intake import FileTrouble, HeaderWords
    from gramrise.report import ScreenWords
    from gramrise.store import StoredQuestion

# So many troubles of one file are named on the terminal; all of them are kept with their rows.
TROUBLES_NAMED = 12

PersonOption = Annotated[str | None, typer.Option("--person", help="Whose; may be left out when there is only one.")]


def register(app: typer.Typer) -> None:
    app.command("import")(take_in)
    for command in (layouts, give, ask):
        app.command()(command)


def take_in(
    context: typer.Context,
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files, or folders of files.")],
    person: PersonOption = None,
    layout: Annotated[str | None, typer.Option("--layout", help="Name of the layout, where recognition waits.")] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen; change nothing.")] = False,
    retry: Annotated[bool, typer.Option("--retry", help="Look again at a file that is known by its bytes.")] = False,
    replace: Annotated[bool, typer.Option("--replace", help="These files are right where they contradict.")] = False,
) -> None:
    """Take in files. Good rows land, bad ones are named and kept; the same file twice changes nothing."""
    from gramrise.cli import tables
    from gramrise.intake import FileTrouble

    house: Household = context.obj
    who = house.person(person)
    files = _files(paths)
    waits = 0
    for file in files:
        try:
            waits += _one_file(house, who, file, layout, dry_run=dry_run, retry=retry, replace=replace)
        except FileTrouble as trouble:
            _told_waiting(house, trouble)
            waits += 1
        except OSError as trouble:
            told = f"{file.name}: it cannot be opened: {trouble.strerror}. To mend: look at its rights."
            tables.warn(house.spoken(told))
            waits += 1
        except WrongUse as trouble:
            if len(files) == 1:
                raise
            house.warn(f"{file.name}: {trouble}")
            waits += 1
    if waits:
        raise typer.Exit(1)


def layouts(
    context: typer.Context,
    file: Annotated[Path | None, typer.Argument(help="A file to recognise; left out: the known layouts.")] = None,
    person: PersonOption = None,
) -> None:
    """Known layouts; or how one file is recognised, with the evidence, and a draft where none fits."""
    from gramrise.cli import tables
    from gramrise.intake import load_layouts, load_words, recognise
    from gramrise.report import screen_words

    house: Household = context.obj
    known = load_layouts(house.home)
    if file is None:
        words = screen_words(house.language())
        tables.show(
            words.say("layouts.title"),
            [(words.say("layouts.name"), "left"), (words.say("layouts.brings"), "left")],
            [(each.name, _about(each.name, each.about, words)) for each in known],
            empty=words.say("layouts.none"),
        )
        house.say(f"Your own: one TOML file each in {house.home / 'layouts'}.")
        return
    _readable(file)
    seen = recognise(file, house.person(person), layouts=known, now_utc=house.now_utc(), words=load_words(house.home))
    for line in seen.in_words(house.spoken).split("\n"):
        tables.say_line(line)
    if not seen.certain:
        raise typer.Exit(1)


def _about(name: str, about: str, words: "ScreenWords") -> str:
    """What a layout brings: of a shipped one in the language to speak, of another as its file says."""
    code = f"layouts.about.{name}"
    return words.say(code) if words.has(code) else about


def give(
    context: typer.Context,
    amount: Annotated[
        list[str], typer.Argument(metavar="AMOUNT...", help="As you would write it: 3 pieces, 15 ml night bottle, 4 g.")
    ],
    person: PersonOption = None,
    at: Annotated[
        str | None, typer.Option(help="2:10, '9:10 PM', yesterday 22:30 or a date and a time; left out: now.")
    ] = None,
    noticed: Annotated[str | None, typer.Option(help="Who noticed: child, sensor or adult.")] = None,
) -> None:
    """Log glucose given; a time in the words counts: 3 pieces at 02:10."""
    from gramrise.cli import tables
    from gramrise.cli.parse import on_an_earlier_day
    from gramrise.intake import clock_alone, load_settings, load_words, read_note, without_time
    from gramrise.report import screen_words

    house: Household = context.obj
    who = house.person(person)
    words = screen_words(who.language)
    now = house.now_utc()
    said = without_time(" ".join(amount), who.zone, now)
    taken = instant_meant(at, who.zone, now)
    if said.at_utc is not None:
        if at is not None and said.at_utc != taken:
            raise WrongUse(f"'{said.time_text}' in the words and --at {at} are two times", "give one of the two")
        taken = said.at_utc
    known = load_words(house.home)
    batch = read_note(
        said.text,
        taken,
        who,
        now_utc=now,
        settings=load_settings(house.home),
        words=known,
        noticed=_who_noticed(noticed, known) if noticed else "",
        household=tuple(house.store.persons()),
    )
    _check_given(batch, said.text, words)
    try:
        taken_already = house.store.take_in(batch, now, dry_run=True).corrected
    except CouldNotRun as trouble:
        raise CouldNotRun(f"{trouble.what}; {_whether_logged(house, batch)}", trouble.mend, trouble.code) from trouble
    if taken_already:
        raise WrongUse(
            words.say("give.other_logged", at=tables.local(taken, who)),
            words.say("give.other_logged_mend"),
            to_mend=words.say("mend"),
        )
    try:
        summary = house.store.take_in(batch, now)
    except CouldNotRun as trouble:
        raise CouldNotRun(f"{trouble.what}; {_whether_logged(house, batch)}", trouble.mend, trouble.code) from trouble
    _tell_given(batch, summary, who, words)
    _tell_past_date(house, batch, who, words)
    clock_only = at is None or clock_alone(at) is not None
    if not said.day_told and clock_only and on_an_earlier_day(taken, now, who):
        tables.say(words.say("give.yesterday"))
    if batch.questions:
        raise typer.Exit(1)


def _who_noticed(text: str, words: "HeaderWords") -> str:
    """'child', 'sensor' or 'adult', by a word of any language. Raises WrongUse."""
    from gramrise.intake import noticed_named

    found = noticed_named(text, words)
    if not found:
        raise WrongUse(f"'{text}' does not say who noticed", "one of: child, sensor, adult")
    return found


def ask(context: typer.Context, person: PersonOption = None) -> None:
    """Walk through the questions only you can answer. Enter alone leaves one for later."""
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import telling_ended_cards
    from gramrise.cli.question_walk import walk_through
    from gramrise.intake import load_settings
    from gramrise.nightly import ask_about_unlogged, current_findings
    from gramrise.report import screen_words

    house: Household = context.obj
    who = house.person(person)
    current_findings(house.store, who.person_id, house.now_utc(), house.home, only=())  # it asks questions of its own
    ask_about_unlogged(house.store, who, house.now_utc(), house.home)
    waiting = house.store.questions(who.person_id)
    words = screen_words(who.language)
    if not waiting:
        tables.say(words.say("ask.none"))
        return

    def answer(together: "list[StoredQuestion]", chosen: str) -> None:
        at = house.now_utc()  # one instant for all that are alike: they are taken back together, too
        with telling_ended_cards(house, who.person_id):
            for asked in together:
                house.store.answer(asked.question_id, chosen, "terminal", at)

    answered = walk_through(waiting, answer, who, words, load_settings(house.home))
    tables.say("\n" + words.say("ask.done", answered=answered, left=len(waiting) - answered))


def _tell_given(batch: "Batch", summary: "ImportSummary", who: "Person", words: "ScreenWords") -> None:
    from gramrise.cli import tables
    from gramrise.report import question_words

    for row in batch.doses.iter_rows(named=True):
        known = row["grams"] is not None
        weight = words.say("give.grams", grams=words.number(row["grams"], 2)) if known else words.say("give.unknown")
        told = words.say("give.logged", person=who.person_id, weight=weight, at=tables.local(row["taken_at_utc"], who))
        tables.say(told + (f" ({row['source']})." if row["source"] else "."))
    for question in batch.questions:
        tables.warn(words.say("give.asked", question=question_words(question, who, words)))
    for row in batch.events.unique("kind", maintain_order=True).iter_rows(named=True):
        kind = words.say(f"event.{row['kind']}")
        tables.say(words.say("give.beside", person=who.person_id, kind=kind))
    if summary.known_file or (summary.already_known and not summary.added):
        tables.warn(words.say("give.known"))


def _tell_past_date(house: Household, batch: "Batch", who: "Person", words: "ScreenWords") -> None:
    """A bottle that was mixed here and is older than its days is named where it is given from: nobody asks for it."""
    from gramrise.cli import tables
    from gramrise.supplies import past_its_days, supplies_settings

    mixed = house.store.supplies.batches(who.person_id)
    for row in batch.doses.unique("source", maintain_order=True).iter_rows(named=True) if mixed else ():
        day = past_its_days(row["source"], mixed, who, row["taken_at_utc"], supplies_settings(house.home))
        if day is not None:
            tables.warn(words.say("give.past_date", source=row["source"], day=words.day(day)))


def _whether_logged(house: Household, batch: "Batch") -> str:
    """Said after a failure, from the log itself: who is told to run it again must not log the glucose twice."""
    try:
        known = {entry["content_hash"] for entry in house.store.imports(batch.person_id)}
    except CouldNotRun:
        return "whether it is logged cannot be looked up now: see `gramrise treatments` before you log it again"
    return "it IS logged, do not log it again" if batch.content_hash in known else "nothing of it is logged"


def _check_given(batch: "Batch", amount: str, words: "ScreenWords") -> None:
    """Raises WrongUse where nothing was understood: silence would look like a logged amount."""
    for held in batch.quarantine:
        code, trouble = f"give.held.{held.trouble.code}", held.trouble
        if words.has(code):
            raise WrongUse(f"'{amount}': {words.say(code)}", words.say(f"{code}_mend"), to_mend=words.say("mend"))
        raise WrongUse(f"'{amount}': {trouble.what}", trouble.mend)
    if batch.doses.is_empty() and batch.events.is_empty():
        what, mend = words.say("give.nothing", amount=amount), words.say("give.nothing_mend")
        raise WrongUse(what, mend, to_mend=words.say("mend"))


def _told_waiting(house: Household, trouble: "FileTrouble") -> None:
    """Why a file waits, the readings that stay possible, and the layout line that would settle each."""
    from gramrise.cli import tables
    from gramrise.intake import FileWaits

    tables.warn(house.spoken(str(trouble)))
    if isinstance(trouble, FileWaits):
        for reading, line in zip_longest(trouble.readings, trouble.lines, fillvalue=""):
            tables.warn(
                "\n    ".join([f"  {house.spoken(reading)}", *map(house.spoken, line.split("\n") if line else [])])
            )


def _one_file(
    house: Household, who: "Person", file: Path, layout: str | None, *, dry_run: bool, retry: bool, replace: bool
) -> int:
    """Take in one file and print what came of it. Returns how much of it waits or was set aside."""
    from gramrise.cli import tables
    from gramrise.intake import load_settings
    from gramrise.nightly import joined, mostly_corrects, settle_if_held, take_in_file
    from gramrise.report import import_sentence, question_words, screen_words
    from gramrise.store import COUNTS

    _readable(file)
    words = screen_words(who.language)
    known = set(house.store.supplies.counts(who.person_id))
    with tables.progress(f"reading {file.name}") as tell:
        taken = take_in_file(
            house.store,
            house.home,
            who,
            file,
            house.now_utc(),
            layout_name=layout,
            dry_run=dry_run,
            retry=retry,
            replace=replace,
            tell=tell,
        )
    # What is left in a tin stands in no frame: of a note it is told here, of a table of counts by its rows.
    counted = len(set(house.store.supplies.counts(who.person_id)) - known)
    for at, summary in enumerate(joined(taken.summaries)):
        tables.say(import_sentence(summary, words, 0 if at or summary.layout == COUNTS else counted))
    if taken.landed and not dry_run and settle_if_held(house.home, who, file):
        tables.say(words.say("import.settled", file=file.name))
    for remark in taken.remarks[:TROUBLES_NAMED]:
        tables.say(f"  {house.spoken(remark)}")
    if len(taken.remarks) > TROUBLES_NAMED:
        tables.say(words.say("import.more_remarks", file=file.name, count=len(taken.remarks) - TROUBLES_NAMED))
    for row in taken.quarantine[:TROUBLES_NAMED]:
        tables.warn(house.spoken(row.trouble.sentence))
    if len(taken.quarantine) > TROUBLES_NAMED:
        tables.warn(words.say("import.more_rows", file=file.name, count=len(taken.quarantine) - TROUBLES_NAMED))
    least = load_settings(house.home).contradicts_from_readings
    changed = [each for each in joined(taken.summaries) if mostly_corrects(each, least) and not replace]
    for summary in changed:
        tables.warn(words.say("import.corrects", file=summary.file, count=summary.corrected))
    waiting = house.store.questions(who.person_id)[-taken.questions_n :] if taken.questions_n and not dry_run else []
    for asked in waiting[:TROUBLES_NAMED]:
        tables.warn(words.say("import.to_answer", question=question_words(asked.question, who, words)))
    return len(taken.quarantine) + taken.questions_n + len(changed)


def _files(paths: list[Path]) -> list[Path]:
    files = [file for path in paths for file in (sorted(path.iterdir()) if path.is_dir() else [path])]
    return [file for file in files if not file.name.startswith(".") and not file.is_dir()]


def _readable(file: Path) -> None:
    if not file.is_file():
        raise WrongUse(f"there is no file '{file}'", "look at the name and the folder")
