"""The door: every request and every connection is looked at before anything else sees it, every answer is sealed.

Only this machine may ask, under the server's own name (so that no foreign name can be pointed at it), from its own
pages (so that no foreign page can use the performer's browser), and with the cookie of this run.

Source: RFC 6265bis (cookies, SameSite), RFC 6454 (Origin), W3C Content Security Policy Level 3, WHATWG HTML
(cross-origin opener and embedder policy), Fetch Metadata Request Headers (W3C).
"""

from __future__ import annotations

import ipaddress
import json
import logging
from collections.abc import Iterable, Mapping
from http.cookies import CookieError, SimpleCookie

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rigproof.web.api.keys import Keys
from rigproof.web.api.problems import Refusal, problem_data

ENTER = "/api/enter"
"""The one thing of the API that may be asked without the cookie: to be given it."""
API = "/api"
"""What lies here or below holds the performer's own work; all else is the page's public code."""
SAFE_METHODS = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; media-src 'self' blob:; worker-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
SEALS = {
    "content-security-policy": POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",
    "cross-origin-resource-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
}
"""What stands on every answer."""
IMMUTABLE = "public, max-age=31536000, immutable"
"""The one other word on caching: for a file of the page whose name changes whenever what it holds does. Source: RFC
8246."""
POLICY_CLOSE = 1008
"""Close code: policy violation. Source: RFC 6455, section 7.4.1."""
log = logging.getLogger(__name__)


class Guard:
    """Stands in front of the app. `port` is the one that the server listens on."""

    def __init__(self, app: ASGIApp, *, port: int, keys: Keys) -> None:
        self.app = app
        self.keys = keys
        self.cookie_name = f"rigproof-{port}"
        self.hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))
        self.origins = frozenset(f"http://{host}" for host in self.hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        try:
            self.require_welcome(scope)
        except Refusal as refusal:
            log.info("refused: %s", refusal.name)
            await _refuse(scope, receive, send, refusal)
            return
        started = False

        async def sealed(message: Message) -> None:
            nonlocal started
            if message["type"] in ("http.response.start", "websocket.http.response.start"):
                started = True
                message = {**message, "headers": _sealed(message.get("headers", ()))}
            await send(message)

        try:
            await self.app(scope, receive, sealed)
        except Exception:
            log.exception("a request failed")
            if scope["type"] != "http" or started:
                raise
            await _refuse(scope, receive, send, BUG)

    def require_welcome(self, scope: Scope) -> None:
        """Raise `Refusal` when a request does not come from where it may."""
        headers: dict[str, list[str]] = {}
        for raw_name, raw_value in scope["headers"]:
            name = raw_name.decode("latin-1").lower()
            headers.setdefault(name, []).append(raw_value.decode("latin-1"))
        is_socket = scope["type"] == "websocket"
        is_safe = not is_socket and scope["method"] in SAFE_METHODS
        if not _is_here(scope.get("client")):
            raise Refusal(403, "not-from-here", "Only this machine may ask.")
        if [host.lower() for host in headers.get("host", [])] not in [[h] for h in self.hosts]:
            raise Refusal(403, "foreign-host", "The server is not called this.")
        origins = headers.get("origin", [])
        if len(origins) > 1 or not self.origins.issuperset(origins):
            raise Refusal(403, "foreign-origin", "Another page may not ask.")
        if not origins and not is_safe:
            raise Refusal(
                403, "foreign-origin", "What changes something must say where it is from."
            )
        # A page on another port of this machine is the same site, so only the very same origin will do.
        if not set(headers.get("sec-fetch-site", ())) <= {"same-origin", "none"}:
            raise Refusal(403, "foreign-origin", "Another page may not ask.")
        path = scope["path"]
        is_public = is_safe and path != API and not path.startswith(f"{API}/")
        if path != ENTER and not is_public and not self.keys.opens(self._cookie(headers)):
            raise Refusal(401, "no-key", "Open the link that rigproof has printed.")

    def _cookie(self, headers: Mapping[str, Iterable[str]]) -> str | None:
        jar: SimpleCookie = SimpleCookie()
        try:
            for line in headers.get("cookie", ()):
                jar.load(line)
        except CookieError:
            return None
        return jar[self.cookie_name].value if self.cookie_name in jar else None


BUG = Refusal(500, "went-wrong", "Something in the program went wrong; nothing was changed.")


def _is_here(client: object) -> bool:
    """Whether an address is this machine's own."""
    if not isinstance(client, tuple | list) or not client:
        return False
    try:
        return ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def _sealed(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    given = [(name.decode("latin-1").lower(), value) for name, value in headers]
    is_kept = ("cache-control", IMMUTABLE.encode()) in given
    seals = SEALS | ({"cache-control": IMMUTABLE} if is_kept else {})
    kept = [(name.encode("latin-1"), value) for name, value in given if name not in seals]
    return [*kept, *((name.encode(), value.encode()) for name, value in seals.items())]


async def _refuse(scope: Scope, receive: Receive, send: Send, refusal: Refusal) -> None:
    """Answer with a refusal; a WebSocket is refused before it is one."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": POLICY_CLOSE, "reason": refusal.name})
        return
    body = json.dumps(problem_data(refusal)).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
    ]
    await send(
        {"type": "http.response.start", "status": refusal.status, "headers": _sealed(headers)}
    )
    await send({"type": "http.response.body", "body": body})
