"""Who may see whom, and who saw, changed or signed what."""

from gramrise.store.access.panels import Panels
from gramrise.store.access.trail import Actor, Entry, Trail, note

__all__ = ["Actor", "Entry", "Panels", "Trail", "note"]
