"""What the store made of a file, in one line."""

from typing import TYPE_CHECKING, Final

from gramrise.domain.batch import ImportSummary

if TYPE_CHECKING:
    from gramrise.report.screens import ScreenWords

_COUNTS: Final = ("added", "corrected", "already_known", "conflicts", "quarantined", "passed_over", "questions")


def import_sentence(summary: ImportSummary, words: "ScreenWords", counted: int = 0) -> str:
    """'log.csv (plain-doses): 12 new, 1 set aside.' `counted`: lines of a note that say what is left in a tin."""
    if summary.known_file:
        waits = words.say("import.known_waits", count=summary.set_aside_then) if summary.set_aside_then else ""
        return f"{words.say('import.known_file', file=summary.file)} {waits}".rstrip()
    code = "import.would" if summary.dry_run else "import.did"
    named = f"layout.{summary.layout}"  # others are names that people type
    layout = words.say(named) if words.has(named) else summary.layout
    return words.say(code, file=summary.file, layout=layout, counts=import_counts(summary, words, counted))


def import_counts(summary: ImportSummary, words: "ScreenWords", counted: int = 0) -> str:
    """'12 new, 1 set aside, 1 count'; 'nothing'."""
    told = [words.say(f"import.{name}", count=n) for name in _COUNTS if (n := getattr(summary, name))]
    if counted:
        told.append(words.say("import.counted", count=counted))
    return ", ".join(told) or words.say("import.nothing")
