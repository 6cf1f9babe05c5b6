"""gramrise nightly | schedule | check: the service."""

import signal
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household

if TYPE_CHECKING:
    from gramrise.nightly import Night

# So much of what was set aside is named after a night; our choice: a screen. All of it is kept.
MOST_NAMED = 40


def register(app: typer.Typer) -> None:
    for command in (nightly, schedule, check):
        app.command()(command)


def nightly(
    context: typer.Context,
    log: Annotated[bool, typer.Option("--log", help="Write what is done to stderr as JSON, a line each.")] = False,
) -> None:
    """One pass over everybody: take in the inbox, find, estimate, send what is due. Safe to run twice."""
    from gramrise.cli import tables
    from gramrise.nightly import log_to, run_night

    house: Household = context.obj
    if log:
        log_to(sys.stderr)
    night = run_night(house.store, house.home, house.now_utc())
    tables.say(house.spoken(night.sentence))
    _name_held(night, house)
    if night.held:
        raise typer.Exit(1)


def _name_held(night: "Night", house: Household) -> None:
    """What was set aside, waits or failed, a line each."""
    from gramrise.cli import tables

    for line in night.held[:MOST_NAMED]:
        tables.warn(house.spoken(line))
    if len(night.held) > MOST_NAMED:
        tables.warn(house.words().say("night.more", count=len(night.held) - MOST_NAMED))


def schedule(
    context: typer.Context,
    once: Annotated[bool, typer.Option("--once", help="Do what is due now and stop; for cron.")] = False,
) -> None:
    """Run every night, whatever happens, until stopped; what was missed is caught up once."""
    if not once:  # loading takes seconds: a signal to stop in them is kept, and answered in good order
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM, signal.SIGINT})
    from gramrise.nightly import run_schedule

    house: Household = context.obj
    raise typer.Exit(run_schedule(house.home, once=once, tell=lambda night: _told(night, house)))


def _told(night: "Night", house: Household) -> None:
    """What one pass of the schedule did, and what waits; that nothing was due, where nothing was."""
    from gramrise.cli import tables

    mails = night.letters or night.delivered.sent or night.delivered.waiting
    done = night.persons or night.files or night.held or mails
    tables.say(house.spoken(night.sentence) if done else house.words().say("night.nothing_due"))
    _name_held(night, house)


def check(context: typer.Context, as_json: Annotated[bool, typer.Option("--json")] = False) -> None:
    """Look for what would keep the service from running, and say how to mend it."""
    from gramrise.cli import documents, tables
    from gramrise.nightly import INBOX, check_health
    from gramrise.report import in_language

    house: Household = context.obj
    found = check_health(house.home, house.now_utc())
    if as_json:
        told = {"check": found.findings, "missing": found.missing}
        print(documents.written({name: [each.as_dict() for each in named] for name, named in told.items()}))
    else:
        words = house.words(found.exit_status)
        tables.say(words.say("check.home", folder=str(house.home)))
        tables.say(words.say("check.inbox", folder=str(house.home / INBOX)))
        for finding in found.findings:
            tables.say(f"{finding.code}: {in_language(finding.sentence, words.language)}")
        if not found.findings:
            tables.say(words.say("check.well"))
        if found.missing:
            tables.say(words.say("check.still_missing"))
        for finding in found.missing:
            tables.say(f"  {finding.code}: {in_language(finding.sentence, words.language)}")
    raise typer.Exit(found.exit_status)
