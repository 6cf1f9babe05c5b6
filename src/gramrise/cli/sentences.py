"""Short words for the terminal; whole sentences for people live in the report's word files and the reasons' table."""

_SPOKEN = {"many_doses": "given more than once"}  # a bare "dose" is insulin in this household


def reason_words(reasons: list[str] | None) -> str:
    """': gap in readings, insulin near', or '' when no reason bites."""
    return "" if not reasons else ": " + ", ".join(_SPOKEN.get(code, code.replace("_", " ")) for code in reasons)
