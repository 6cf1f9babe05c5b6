"""Setting a page by typst: no network, the same fonts everywhere; a letter no font has is refused, not boxed.

The fonts are those inside the typesetter: the book face of `style.FAMILY`, and DejaVu Sans Mono for letters it lacks.
"""

from functools import cache
from typing import Any, Final

from gramrise.domain.problems import CouldNotRun
from gramrise.report.style import FAMILY

# PDF/UA-1: tagged, with title and language. PDF/A-2a: fonts inside, and every letter shown: it refuses empty boxes.
STANDARDS: Final = ["ua-1", "a-2a"]
# How typst names a letter that none of the fonts has.
NO_LETTER: Final = "could not be displayed with font"
ONE_LETTER: Final = b"""
#set document(title: "letter")
#set text(font: (sys.inputs.family, "DejaVu Sans Mono"))
#sys.inputs.letter
"""


def set_pdf(template: bytes, inputs: dict[str, str], made_at: int) -> bytes:
    """The PDF of a template. `made_at` is its date, seconds since 1970: the same inputs give the same bytes.

    raises CouldNotRun where a letter is in no font of this computer, or the words do not fit
    """
    return _first_that_shows_all(template, inputs, made_at)[0]


def set_png(template: bytes, inputs: dict[str, str], made_at: int, ppi: float) -> bytes:
    """The picture of a template that makes one page; it raises as `set_pdf` does."""
    own_fonts_only = _first_that_shows_all(template, inputs, made_at)[1]
    return _compiled(template, inputs, own_fonts_only, format="png", ppi=ppi)


def _first_that_shows_all(template: bytes, inputs: dict[str, str], made_at: int) -> tuple[bytes, bool]:
    """The PDF, and whether the fonts that come along were enough; else those of the computer are taken too."""
    how: dict[str, Any] = {"format": "pdf", "pdf_standards": STANDARDS, "timestamp": made_at}
    try:
        return _compiled(template, inputs, True, **how), True
    except _LetterMissing:
        pass
    try:
        return _compiled(template, inputs, False, **how), False
    except _LetterMissing as problem:
        raise CouldNotRun(
            f"a letter cannot be printed: {problem}",
            "install a font that has the letters of this name, or store the name in other letters",
        ) from problem


@cache
def can_print(letter: str) -> bool:
    """Whether the fonts inside the typesetter have a letter. Asked of the typesetter itself, once a letter."""
    try:
        _compiled(
            ONE_LETTER, {"letter": letter, "family": FAMILY}, True, format="pdf", pdf_standards=STANDARDS, timestamp=0
        )
    except (_LetterMissing, CouldNotRun, UnicodeEncodeError):
        return False
    return True


class _LetterMissing(Exception):
    """A letter is in none of the fonts."""


def _compiled(template: bytes, inputs: dict[str, str], own_fonts_only: bool, **how: Any) -> bytes:
    import typst

    try:
        made, warnings = typst.compile_with_warnings(
            input=template, sys_inputs=inputs, ignore_system_fonts=own_fonts_only, **how
        )
    except typst.TypstError as problem:
        told = str(problem)
        if NO_LETTER in told:
            raise _LetterMissing(told) from problem
        raise CouldNotRun(
            f"the page could not be set: {told}", "mend what the message names, or report it"
        ) from problem
    if warnings:
        told = "; ".join(str(getattr(warning, "message", warning)) for warning in warnings)
        raise CouldNotRun(f"the page could not be set cleanly: {told}", "report this together with the message")
    assert isinstance(made, bytes)  # one file: a picture has one page
    return made
