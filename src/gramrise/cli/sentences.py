"""Short words for the terminal; whole sentences for people live in the report's word files and the reasons' table."""

from typing import Final

from gramrise.domain.batch import ImportSummary

CLASS_WORDS: Final = {"for_low": "a low", "given_early": "given early", "other": "other"}


def form_words(form: str) -> str:
    """What glucose of no named source is called."""
    return {"mixed": "several forms", "unknown": "not said"}.get(form, form)


_SPOKEN = {"many_doses": "given more than once"}  # a bare "dose" is insulin in this household


def reason_words(reasons: list[str] | None) -> str:
    """': gap in readings, insulin near', or '' when no reason bites."""
    return "" if not reasons else ": " + ", ".join(_SPOKEN.get(code, code.replace("_", " ")) for code in reasons)


def import_sentence(summary: ImportSummary) -> str:
    """What the store made of one file, in one line."""
    if summary.known_file:
        return f"{summary.file}: known already, nothing changed."
    counted = [
        f"{number} {word}"
        for number, word in (
            (summary.added, "new"),
            (summary.corrected, "corrected"),
            (summary.already_known, "known already"),
            (summary.conflicts, "in conflict, both kept"),
            (summary.quarantined, "set aside"),
            (summary.questions, "to be asked"),
        )
        if number
    ]
    would = "would bring " if summary.dry_run else ""
    return f"{summary.file} ({summary.layout}): {would}{', '.join(counted) or 'nothing'}."


def counted(number: int, thing: str) -> str:
    """'1 low', '3 lows'."""
    return f"{number} {thing}" + ("" if number == 1 else "s")
