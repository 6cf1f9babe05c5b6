"""One module a page or a few: what a request asks for, done by functions of the lower floors, and shown."""

from gramrise.web.pages import help_page, log
from gramrise.web.visit import Door

DOORS: tuple[Door, ...] = (*log.DOORS, *help_page.DOORS)
