"""What `gramrise factors` says below its table: what a number lacks, or why none is given."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.domain.findings import Findings
    from gramrise.domain.person import Person
    from gramrise.estimate import EstimateSettings
    from gramrise.report import ScreenWords


def lack_sentences(who: "Person", found: "Findings", settings: "EstimateSettings", words: "ScreenWords") -> "list[str]":
    """A sentence a band: what its thin number lacks to be the person's own, or why its number is withheld."""
    from gramrise.estimate import band_state
    from gramrise.report import still_learning, words_for

    report_words, told = words_for(who.language, who.unit, "UTC"), []
    for band in who.bands_now():
        state = band_state(who, found, band.name, found.as_of_utc, settings.state)
        if state.withheld:
            why = " ".join(_why(code, who, settings, words) for code in state.withheld)
            told.append(words.say("factors.withheld_because", band=report_words.band(band.name), why=why))
        elif state.lacks:
            told.append(f"{report_words.band(band.name)}: {still_learning(state.lacks, band.name, report_words)}.")
    return told


def _why(code: str, who: "Person", settings: "EstimateSettings", words: "ScreenWords") -> str:
    years, days = words.amount(settings.state.least_age_years), settings.state.delivery_settles_days
    return words.say(f"factors.withheld.{code}", person=who.person_id, years=years, days=days)
