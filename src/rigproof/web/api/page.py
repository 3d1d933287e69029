"""The page itself: index and assets as the build has left them. Public code, so they need no cookie; nothing else of
the folder, and nothing outside it, is answered.
"""

from __future__ import annotations

import re
from pathlib import Path

from starlette.responses import FileResponse, HTMLResponse, Response

from rigproof.web.api.guard import IMMUTABLE
from rigproof.web.api.problems import Refusal

PAGE = Path(__file__).resolve().parent.parent / "page"
"""Where the build puts it."""
PAGE_PATHS = ("/", "/{name}", "/assets/{name:path}")
"""Where its files are asked for. What lies below /api is never one."""
INDEX = "index.html"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".woff": "font/woff",
    ".wasm": "application/wasm",
    ".txt": "text/plain; charset=utf-8",
}
"""What is served, and as what. Source: IANA media types; RFC 9239 for JavaScript."""
NAME = re.compile(r"(?:[A-Za-z0-9_][A-Za-z0-9_.-]*/)*[A-Za-z0-9_][A-Za-z0-9_.-]*")
"""A path of plain parts, none of which begins with a dot."""
HASHED = re.compile(r"assets/(?:.*/)?[^/]+[-.][A-Za-z0-9_-]{8,}\.[a-z0-9]+")
"""A file whose name changes whenever what it holds does."""
NOT_BUILT = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>rigproof</title></head>
<body>
<h1>rigproof</h1>
<p>The server runs, but its page has not been built here. In the folder of the program, with Node.js 20.19 or later:</p>
<pre>cd src/rigproof/web/ui
npm ci
npm run build</pre>
<p>Then load this page again. Everything else works from the command line: <code>rigproof check</code>.</p>
</body>
</html>
"""


def page_file(page: Path, name: str) -> Response:
    """Answer a file of the page, its index for no name.

    Raises `Refusal` when there is no such file.
    """
    wanted = name or INDEX
    kind = TYPES.get(Path(wanted).suffix.lower())
    if kind is None or NAME.fullmatch(wanted) is None:
        raise _nothing()
    try:
        root = page.resolve()
        real = (page / wanted).resolve()
        is_there = real.is_relative_to(root) and real.is_file()
    except (OSError, ValueError):
        is_there = False
    if not is_there:
        if wanted == INDEX:
            return HTMLResponse(NOT_BUILT)
        raise _nothing()
    headers = {"cache-control": IMMUTABLE} if HASHED.fullmatch(wanted) else {}
    return FileResponse(real, headers=headers, media_type=kind)


def _nothing() -> Refusal:
    return Refusal(404, "no-such-place", "Not Found")
