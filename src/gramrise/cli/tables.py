"""Tables for a terminal of 80 columns, in the person's own unit and on their own clock."""

import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Final, Literal

from gramrise.domain.person import Person
from gramrise.domain.printable import for_terminal, printable
from gramrise.domain.units import GlucoseUnit, from_mg_dl
from gramrise.intake import zone_on

WIDTH: Final = 80
Justify = Literal["left", "right"]


def show(title: str, heads: Sequence[tuple[str, Justify]], rows: Iterable[Sequence[str]], *, empty: str) -> None:
    """Print a table to stdout; `empty` is the sentence for no rows. Cells wrap, numbers stand right."""
    from rich import box  # here: most commands print no table
    from rich.console import Console
    from rich.table import Table

    body = [list(row) for row in rows]
    console = Console(width=WIDTH, highlight=False, markup=False, emoji=False, file=sys.stdout)
    if not body:
        console.print(for_terminal(empty))
        return
    table = Table(
        title=title, box=box.SIMPLE_HEAD, title_justify="left", title_style="", header_style="", pad_edge=False
    )
    for head, justify in heads:
        table.add_column(head, justify=justify, overflow="fold", no_wrap=justify == "right")
    for row in body:
        table.add_row(*map(for_terminal, row))
    console.print(table)


def say(text: str) -> None:
    """Print wrapped text to stdout."""
    print(_wrapped(text))


def say_line(text: str) -> None:
    """Print one line to stdout, wrapped under its own indent. A line of a layout ('key = value') stays whole."""
    text = for_terminal(text)
    indent = " " * (len(text) - len(text.lstrip()))
    key = text.split("=", 1)[0].strip()
    if len(text) <= WIDTH or ("=" in text and key.isidentifier()):
        print(text)
        return
    print(textwrap.fill(text, WIDTH, subsequent_indent=indent + "  ", break_long_words=False, break_on_hyphens=False))


def warn(text: str) -> None:
    """Print wrapped text to stderr: what was set aside or waits."""
    print(_wrapped(text), file=sys.stderr)


def _wrapped(text: str) -> str:
    """Lines of at most `WIDTH`, each line break kept; a longer word, a path, stays whole so that it can be copied."""
    lines = (
        textwrap.wrap(line, WIDTH, break_long_words=False, break_on_hyphens=False)
        for line in for_terminal(text).split("\n")
    )
    return "\n".join("\n".join(line) for line in lines)


@contextmanager
def progress(what: str) -> Iterator[Callable[[int], None]]:
    """Rows read so far, rewritten in place on a terminal's stderr; silent in a pipe or a log."""
    shown, what = sys.stderr.isatty(), printable(what)

    def tell(rows: int) -> None:
        if shown:
            sys.stderr.write(f"\r{what}: {rows:,} rows".replace(",", " "))
            sys.stderr.flush()

    try:
        yield tell
    finally:
        if shown:
            sys.stderr.write("\r" + " " * (WIDTH - 1) + "\r")


def level(value_mg_dl: float | None, unit: GlucoseUnit) -> str:
    """A glucose value in the person's unit: whole mg/dL or tenths of mmol/L; a dash when there is none."""
    if value_mg_dl is None:
        return "-"
    return f"{from_mg_dl(value_mg_dl, unit):.{0 if unit is GlucoseUnit.MG_DL else 1}f}"


def per_gram(value_mg_dl_per_g: float | None, unit: GlucoseUnit) -> str:
    """A rise factor in the person's unit per g: tenths of mg/dL, hundredths of mmol/L."""
    if value_mg_dl_per_g is None:
        return "-"
    return f"{from_mg_dl(value_mg_dl_per_g, unit):.{1 if unit is GlucoseUnit.MG_DL else 2}f}"


def local(at_utc: datetime | None, person: Person) -> str:
    """'Mon 03 Mar 02:10' on the clock the person lived by then; a dash when there is none."""
    return "-" if at_utc is None else at_utc.astimezone(zone_on(person.zone, at_utc)).strftime("%a %d %b %H:%M")


def band(person: Person, name: str, at_utc: datetime) -> str:
    """'overnight 22:00-07:00': a time band with the hours it had on that day."""
    that_day = person.bands.on_or_first(at_utc.astimezone(zone_on(person.zone, at_utc)).date()) or person.bands_now()
    hours = next((each.hours for each in that_day if each.name == name), "")
    return f"{name} {hours}".rstrip()


def grams(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


def minutes_between(start_utc: datetime, end_utc: datetime | None) -> str:
    """Whole minutes; 'open' where there is no end."""
    return "open" if end_utc is None else f"{(end_utc - start_utc).total_seconds() / 60:.0f}"
