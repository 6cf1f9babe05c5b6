"""Floor 6: the page. It logs and shows, by the same functions of the lower floors as the commands.

`page_app` is the page of one home; `serve_page` runs it until told to stop. The commands name them to the server as
text, as servers of pages are told what to run: no room of this floor imports the other.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.web.app import page_app
    from gramrise.web.serving.server import serve_page

__all__ = ["page_app", "serve_page"]

_HOMES = {"page_app": "app", "serve_page": "serving.server"}


def __getattr__(name: str) -> Any:
    """Loads a part when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.web.{_HOMES[name]}"), name)
