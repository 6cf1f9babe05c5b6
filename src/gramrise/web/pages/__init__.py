"""One module a page or a few: what a request asks for, done by functions of the lower floors, and shown."""

from gramrise.web.pages import beside, counting, files, help_page, log, mixing, questions, reading
from gramrise.web.visit import Door

DOORS: tuple[Door, ...] = (
    *log.DOORS,
    *beside.DOORS,
    *help_page.DOORS,
    *files.DOORS,
    *questions.DOORS,
    *reading.DOORS,
    *counting.DOORS,
    *mixing.DOORS,
)
