"""The week as numbers and codes: the one source of everything that is shown of it. No prose."""
