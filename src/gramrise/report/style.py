"""The look of report, mail and pictures: one typeface, black on white, two greys. Nothing is said by colour alone."""

from typing import Final

# The book face inside the PDF typesetter; the others are its nearest kin on screens that lack it.
FAMILY: Final = "Libertinus Serif"
SCREEN_FAMILIES: Final = f"'{FAMILY}', 'Iowan Old Style', Palatino, Georgia, 'Times New Roman', serif"

INK: Final = "#111111"
QUIET: Final = "#4a4a4a"  # remarks and labels; 7:1 and more on paper, checked by the WCAG formula
RULE: Final = "#8a8a8a"  # hairlines, never text
TINT: Final = "#ececec"  # the night in the strips
PAPER: Final = "#ffffff"

PALETTE: Final = {"ink": INK, "quiet": QUIET, "rule": RULE, "tint": TINT, "paper": PAPER}


def contrast(one: str, other: str) -> float:
    """Contrast of two colours "#rrggbb", 1..21.

    source   WCAG 2.2, definitions "contrast ratio" and "relative luminance"
    """
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
