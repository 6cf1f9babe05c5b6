"""Files that every page may load: style, scripts, the icon, the name for a home screen. No data in them."""

from pathlib import Path
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

ASSETS: Final = Path(__file__).parents[1] / "assets"
_TYPES: Final = {
    "style.css": "text/css",
    "page.js": "text/javascript",
    "worker.js": "text/javascript",
    "icon.svg": "image/svg+xml",
    "page.webmanifest": "application/manifest+json",
}


async def asset(request: Request) -> Response:
    """One of the files named here, and no other."""
    name = request.url.path.removeprefix("/")
    headers = {"Cache-Control": "no-cache"}
    return Response((ASSETS / name).read_bytes(), media_type=_TYPES[name], headers=headers)


ASSET_ROUTES: Final = [Route(f"/{name}", asset, methods=["GET"]) for name in _TYPES]
