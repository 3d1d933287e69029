"""The page's own files: public, of the right sort, cached as they may be, and nothing but them."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from rigproof.web.api.app import build_app
from rigproof.web.api.guard import IMMUTABLE, POLICY, SEALS
from rigproof.web.api.keys import Keys
from tests.web.conftest import HERE, OWN, PAGE_FILES, PORT, App

JS = "text/javascript; charset=utf-8"


@pytest.mark.parametrize(
    ("path", "name", "kind", "is_kept"),
    [
        ("/", "index.html", "text/html; charset=utf-8", False),
        ("/index.html", "index.html", "text/html; charset=utf-8", False),
        ("/icon.svg", "icon.svg", "image/svg+xml", False),
        ("/assets/index-B7dk2_Qx.js", "assets/index-B7dk2_Qx.js", JS, True),
        (
            "/assets/index-Dk19aZ0q.css",
            "assets/index-Dk19aZ0q.css",
            "text/css; charset=utf-8",
            True,
        ),
        ("/assets/face-C0ffee12.woff2", "assets/face-C0ffee12.woff2", "font/woff2", True),
        ("/assets/plain.js", "assets/plain.js", JS, False),
    ],
)
def test_a_file_is_served_to_whoever_may_knock(
    outside: App, path: str, name: str, kind: str, is_kept: bool
) -> None:
    """Media types: IANA and RFC 9239. Caching: RFC 8246 for what changes its name with what it holds."""
    done = outside.client.get(path)
    assert done.status_code == 200
    assert done.text == PAGE_FILES[name]
    assert done.headers["content-type"] == kind
    assert done.headers.get_list("cache-control") == [IMMUTABLE if is_kept else "no-store"]
    for seal, value in SEALS.items():
        if seal != "cache-control":
            assert done.headers.get_list(seal) == [value]
    assert outside.client.head(path).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/assets/page.py",
        "/.hidden.js",
        "/assets/../../secret.js",
        "/assets/%2e%2e/%2e%2e/secret.js",
        "/..%2fsecret.js",
        "/assets/..%5c..%5csecret.js",
        "/%00.js",
        "/assets//etc/passwd",
        "/link.js",
        "/assets/away/secret.js",
        "/assets",
        "/assets/",
        "/nothing.html",
    ],
)
def test_nothing_else_is(outside: App, page: Path, path: str) -> None:
    secret = page.parent / "secret.js"
    secret.write_text("secret", encoding="utf-8")
    (page / "link.js").symlink_to(secret)
    (page / "assets" / "away").symlink_to(page.parent)
    done = outside.client.get(path)
    assert done.status_code == 404
    assert set(done.json()) == {"error"}


def test_the_page_is_no_way_round_the_door(outside: App) -> None:
    assert outside.client.get("/", headers={"host": "evil.example"}).status_code == 403
    assert outside.client.get("/", headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert outside.client.post("/", headers=OWN).status_code == 401
    assert outside.client.get("/api/project").status_code == 401


def test_a_page_that_is_not_built_says_how(bench: Path, tmp_path: Path) -> None:
    app = build_app(bench, port=PORT, keys=Keys(), page=tmp_path / "none")
    with TestClient(app, base_url=HERE, client=("127.0.0.1", 5)) as client:
        done = client.get("/")
        assert done.status_code == 200
        assert done.headers["content-type"] == "text/html; charset=utf-8"
        assert "npm run build" in done.text
        assert client.get("/assets/x-12345678.js").status_code == 404


def test_the_policy_lets_the_page_do_what_it_needs_and_no_more() -> None:
    """Source: W3C Content Security Policy Level 3; 'self' takes in the WebSocket of the same origin."""
    rules = dict(rule.strip().split(" ", 1) for rule in POLICY.split(";"))
    for rule in ("script-src", "style-src", "connect-src", "worker-src", "font-src"):
        assert rules[rule] == "'self'"
    assert rules["media-src"] == "'self' blob:"
    assert rules["img-src"] == "'self' data:"
    assert not set(rules) - {
        "default-src", "script-src", "style-src", "img-src", "font-src", "connect-src", "media-src",
        "worker-src", "base-uri", "form-action", "frame-ancestors",
    }  # fmt: skip
