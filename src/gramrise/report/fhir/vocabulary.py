"""Our own code system and the identity of each record: no code of ours claims to be one of a terminology."""

from datetime import datetime
from typing import Any, Final
from uuid import UUID, uuid5

from gramrise import __version__
from gramrise.connectors.fhir import OWN_FINDINGS

# A namespace of our own for identities made from names (RFC 4122, version 5); drawn once, at random.
NAMESPACE: Final = UUID("9d0c1b52-6a3f-4a57-8d0e-3c4f7b1e2a96")
IDENTIFIERS: Final = "urn:ietf:rfc:3986"

# code: what it is called, and what it means.
CONCEPTS: Final[dict[str, tuple[str, str]]] = {
    "rise-factor": (
        "Glucose rise per gram of oral glucose",
        "Estimated rise of sensor glucose in one person per gram of oral glucose, for one time band.",
    ),
    "credible-interval-90": (
        "90 % credible interval of the estimate",
        "From the 5th to the 95th percentile of the posterior.",
    ),
    "treatment-count": ("Number of treatments used", "Count of logged treatments whose rise could be used."),
    "starting-value": (
        "Weight-based starting value",
        "Value of the starting table for the weight on file, before any treatment was seen.",
    ),
    "body-weight-used": ("Body weight used", "Body weight on that day, carried along the growth reference."),
    "time-band": ("Local time band", "Part of the local day for which the estimate holds."),
    "estimate-state": (
        "State of the estimate",
        "own: of the person's own treatments; thin: still learning; withheld: no amount is given for it.",
    ),
    "low-episode": (
        "Low-glucose episode found in sensor data",
        "Run of sensor readings below 70 mg/dL for 15 minutes, found by software and not confirmed by a person.",
    ),
    "lowest-reading": ("Lowest sensor reading of the episode", "Lowest reading between start and end."),
    "threshold": ("Threshold used", "Sensor glucose below which a reading counted as low."),
    "treatment-grams": (
        "Grams of glucose logged for the episode",
        "Sum of measured oral glucose logged from 30 minutes before the episode to its end.",
    ),
    "episode-outcome": ("What became of the episode", "From the log and from how the level came back."),
    "drift": (
        "Change since the signed reference",
        "Present estimate divided by the signed one, both computed with today's model.",
    ),
    "growth-ratio": ("Share that growth explains", "Ratio that the change of body weight alone would give."),
    "probability-moved": (
        "Probability of a change beyond growth",
        "Posterior probability that the change differs from growth by more than 15 %.",
    ),
    "reference-date": ("Date of the signed reference", "Local date to which the signed reference belongs."),
    "sign-off": ("Sign-off of the estimate", "Whether the signed number was accepted, or seen and not accepted."),
    "reference-valid-until": ("Signed reference valid until", "Last local date on which the signed reference holds."),
    "person": ("Person in this household", "Identifier of a person within one household."),
}


def identity(household: str, *parts: object) -> str:
    """The same for the same record of the same household, told apart from every other household's: urn:uuid.

    household   random letters made once for this home; two families may both have called their child "mia"
    """
    told = "|".join(_told(part) for part in (household, *parts))
    return f"urn:uuid:{uuid5(NAMESPACE, told)}"


def _told(part: object) -> str:
    return part.isoformat() if isinstance(part, datetime) else str(part)


def coded(code: str) -> dict[str, Any]:
    """A concept of ours; its text says it to a reader without our code system."""
    display = CONCEPTS[code][0]
    coding = {"system": OWN_FINDINGS, "version": __version__, "code": code, "display": display}
    return {"coding": [coding], "text": display}


def code_system() -> dict[str, Any]:
    """The code system itself, which goes out with every bundle."""
    return {
        "resourceType": "CodeSystem",
        "url": OWN_FINDINGS,
        "version": __version__,
        "name": "GramriseFindings",
        "title": "Findings computed by gramrise",
        "status": "draft",
        "experimental": True,
        "description": "Local codes: none of them is a LOINC or SNOMED CT code, or claims to be equivalent to one.",
        "caseSensitive": True,
        "content": "complete",
        "concept": [
            {"code": code, "display": display, "definition": definition}
            for code, (display, definition) in CONCEPTS.items()
        ],
    }
