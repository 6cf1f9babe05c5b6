"""Tables for a terminal of 80 columns, in the person's own unit and on their own clock."""

import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Final, Literal

from gramrise.domain.person import Person, zone_on
from gramrise.domain.printable import for_terminal, printable
from gramrise.domain.units import GlucoseUnit, from_mg_dl

WIDTH: Final = 80
Justify = Literal["left", "right", "time"]  # a time stands left and is never parted


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
        left: Literal["left", "right"] = "right" if justify == "right" else "left"
        table.add_column(head, justify=left, overflow="fold", no_wrap=justify != "left")
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


def level(value_mg_dl: float | None, person: Person) -> str:
    """A glucose value in the person's unit: whole mg/dL or tenths of mmol/L; a dash when there is none."""
    if value_mg_dl is None:
        return "-"
    return number(from_mg_dl(value_mg_dl, person.unit), 0 if person.unit is GlucoseUnit.MG_DL else 1, person)


def per_gram(value_mg_dl_per_g: float | None, person: Person) -> str:
    """A rise factor in the person's unit per g: tenths of mg/dL, hundredths of mmol/L."""
    if value_mg_dl_per_g is None:
        return "-"
    return number(from_mg_dl(value_mg_dl_per_g, person.unit), 1 if person.unit is GlucoseUnit.MG_DL else 2, person)


def number(value: float, decimals: int, person: Person) -> str:
    """A number with the point or comma of the person's language."""
    from gramrise.report import screen_words

    return screen_words(person.language).number(value, decimals)


def local(at_utc: datetime | None, person: Person) -> str:
    """'Mon 03 Mar 2026 02:10' on the clock the person lived by then; a dash when there is none."""
    from gramrise.report import local_time

    return local_time(at_utc, person)


def band(person: Person, name: str, at_utc: datetime) -> str:
    """'Overnight 22:00-07:00': a time band with the hours it had on that day."""
    that_day = person.bands.on_or_first(at_utc.astimezone(zone_on(person.zone, at_utc)).date()) or person.bands_now()
    hours = next((each.hours for each in that_day if each.name == name), "")
    return f"{band_name(name, person)} {hours}".rstrip()


def band_name(name: str, person: Person) -> str:
    """A time band in the person's language; a name of the family's own stays as it is."""
    from gramrise.report import screen_words

    words = screen_words(person.language)
    return words.say(f"band.{name}") if words.has(f"band.{name}") else name


def grams(value: float | None, person: Person) -> str:
    return "?" if value is None else number(value, 1, person)


def minutes_between(start_utc: datetime, end_utc: datetime | None, still_open: str) -> str:
    """Whole minutes; `still_open` where there is no end."""
    return still_open if end_utc is None else f"{(end_utc - start_utc).total_seconds() / 60:.0f}"
