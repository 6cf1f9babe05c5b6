"""One module a page or a few: what a request asks for, done by functions of the lower floors, and shown."""

from gramrise.web.pages import beside, changes, clinic, count, help_page, log, mix, questions, reading, upload
from gramrise.web.visit import Door

_ROOMS = (log, help_page, beside, reading, upload, questions, count, mix, changes, clinic)
DOORS: tuple[Door, ...] = tuple(door for room in _ROOMS for door in room.DOORS)
