"""Files that every page may load: style, scripts, the icon, the name for a home screen. No data in them."""

from pathlib import Path
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from gramrise.report import review_stylesheet
from gramrise.web.serving.certificate import AUTHORITY, FOLDER
from gramrise.web.visit import Page

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


async def review_style(_request: Request) -> Response:
    """The look of the clinic review's pages."""
    return Response(review_stylesheet(), media_type="text/css", headers={"Cache-Control": "no-cache"})


def authority_route(page: Page) -> Route:
    """The certificate of the home's authority, for phones to trust; 404 where the home has none. Not secret."""

    async def authority(_request: Request) -> Response:
        file = page.home / FOLDER / AUTHORITY
        if not await run_in_threadpool(file.is_file):
            raise HTTPException(404)
        content = await run_in_threadpool(file.read_bytes)
        return Response(content, media_type="application/x-x509-ca-cert")

    return Route("/authority.pem", authority, methods=["GET"])


ASSET_ROUTES: Final = [
    Route("/review.css", review_style, methods=["GET"]),
    *(Route(f"/{name}", asset, methods=["GET"]) for name in _TYPES),
]
