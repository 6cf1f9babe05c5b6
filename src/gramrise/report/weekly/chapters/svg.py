"""Lines and letters of the report's pictures, as SVG. Lengths are points; text stays text and is escaped here."""

from collections.abc import Iterable
from html import escape

from gramrise.report.style import INK, PAPER, SCREEN_FAMILIES


def picture(width: float, height: float, parts: Iterable[str]) -> str:
    """A whole SVG document."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}pt" '
        f'height="{height:g}pt" font-family="{SCREEN_FAMILIES}" fill="{INK}">{"".join(parts)}</svg>'
    )


def line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}"/>'


def text(
    x: float,
    y: float,
    words: str,
    points: float,
    colour: str,
    anchor: str = "start",
    *,
    italic: bool = False,
    halo: bool = False,
) -> str:
    style = ' font-style="italic"' if italic else ""
    if halo:
        style += f' stroke="{PAPER}" stroke-width="2.2" stroke-linejoin="round" paint-order="stroke"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{points:g}" fill="{colour}" text-anchor="{anchor}"{style}>'
        f"{escape(words)}</text>"
    )
