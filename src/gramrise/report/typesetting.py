"""Setting a page by typst: no network, the same fonts everywhere; a letter no font has is refused, not boxed."""

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any, Final

from gramrise.domain.problems import CouldNotRun

# PDF/UA-1: tagged, with title and language. PDF/A-2a: fonts inside, and every letter shown: it refuses empty boxes.
STANDARDS: Final = ["ua-1", "a-2a"]
# How typst names a letter that none of the fonts has.
NO_LETTER: Final = "could not be displayed with font"
# The folder of matplotlib also holds a font of last resort, which has an empty box for every letter there is.
FALLBACK_FONTS: Final = "DejaVuSans*.ttf"


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


class _LetterMissing(Exception):
    """A letter is in none of the fonts."""


def _compiled(template: bytes, inputs: dict[str, str], own_fonts_only: bool, **how: Any) -> bytes:
    import typst

    try:
        made, warnings = typst.compile_with_warnings(
            input=template, sys_inputs=inputs, font_paths=[_fonts()], ignore_system_fonts=own_fonts_only, **how
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


@cache
def _fonts() -> Path:
    """A folder with the fonts that stand in for letters the book face lacks, kept until the program ends."""
    from matplotlib import get_data_path

    folder = Path(tempfile.mkdtemp(prefix="gramrise-fonts-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for font in (Path(get_data_path()) / "fonts" / "ttf").glob(FALLBACK_FONTS):
        shutil.copy(font, folder)
    return folder
