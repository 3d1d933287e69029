"""Who may come in: a token in the printed link opens the door once, then a cookie holds it open for the run."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field

TOKENS_LIMIT = 16


@dataclass(slots=True)
class Keys:
    """The secrets of one run, 256 bits each."""

    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _tokens: list[str] = field(default_factory=list)

    def new_token(self) -> str:
        """Return a token for one link; of too many that nobody used the oldest is forgotten."""
        token = secrets.token_urlsafe(32)
        self._tokens = [*self._tokens, token][-TOKENS_LIMIT:]
        return token

    def exchange(self, token: str) -> bool:
        """Whether the token opens; it does so once."""
        fitting = [known for known in self._tokens if _same(known, token)]
        self._tokens = [known for known in self._tokens if known not in fitting]
        return bool(fitting)

    def opens(self, cookie: str | None) -> bool:
        """Whether the cookie is the one of this run."""
        return cookie is not None and _same(self.cookie, cookie)


def _same(secret: str, given: str) -> bool:
    return hmac.compare_digest(secret.encode(), given.encode("utf-8", errors="replace"))
