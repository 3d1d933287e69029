"""Who may ask, and how every answer is sealed.

Source: OWASP Cheat Sheet Series, Cross-Site Request Forgery Prevention and HTML5 Security (WebSocket origin);
RFC 6265bis for the cookie; WHATWG HTML for cross-origin isolation.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from rigproof.web.api.app import ASKED, build_app
from rigproof.web.api.guard import POLICY, SEALS
from rigproof.web.api.keys import Keys
from tests.web.conftest import HERE, OWN, PORT, SOCKET, App


def problem(response: Any, status: int, name: str) -> None:
    assert response.status_code == status, response.text
    assert set(response.json()) == {"error"}
    error = response.json()["error"]
    assert {"name", "message", "errors"} <= set(error)
    assert error["name"] == name


def is_sealed(response: Any) -> bool:
    return all(response.headers.get_list(name) == [value] for name, value in SEALS.items())


def test_nothing_is_answered_before_the_door_is_passed(outside: App) -> None:
    for one in ASKED:
        if one.path != "/api/enter":
            done = outside.client.request(one.method, one.path, headers=OWN)
            problem(done, 401, "no-key")
            assert is_sealed(done)
    for path in ("/api", "/api/", "/api/nothing", "/api//project", "/API/project"):
        assert outside.client.get(path).status_code in (401, 404), path


def test_a_token_opens_once(outside: App) -> None:
    token = outside.keys.new_token()
    first = outside.client.post("/api/enter", json={"token": token}, headers=OWN)
    assert first.status_code == 200
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Path=/" in cookie
    assert "Domain" not in cookie
    assert token not in cookie
    assert outside.client.get("/api/project").status_code == 200
    outside.client.cookies.clear()
    problem(outside.client.post("/api/enter", json={"token": token}, headers=OWN), 401, "no-key")


@pytest.mark.parametrize("token", ["", "x", None, 3, "ü" * 43])
def test_a_wrong_token_opens_nothing(outside: App, token: Any) -> None:
    outside.keys.new_token()
    done = outside.client.post("/api/enter", json={"token": token}, headers=OWN)
    problem(done, 401, "no-key")
    assert "set-cookie" not in done.headers


def test_a_cookie_of_another_run_opens_nothing(outside: App) -> None:
    other = Keys().cookie
    for cookie in (f"rigproof-{PORT}={other}", f"rigproof-1={outside.keys.cookie}", "=;;\x01"):
        done = outside.client.get("/api/project", headers={"cookie": cookie})
        problem(done, 401, "no-key")


def test_tokens_are_long_and_never_alike() -> None:
    keys = Keys()
    tokens = {keys.new_token() for _ in range(50)} | {keys.cookie}
    assert len(tokens) == 51
    assert min(map(len, tokens)) >= 43  # 256 bits in base 64


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        "127.0.0.1",
        f"127.0.0.1:{PORT + 1}",
        "",
        f"127.0.0.1.evil.example:{PORT}",
        f"localhost.:{PORT}",
    ],
)
def test_a_foreign_name_is_refused(app: App, host: str) -> None:
    """A name that an attacker points at this machine (DNS rebinding) is none of ours."""
    done = app.client.get("/api/project", headers={"host": host})
    problem(done, 403, "foreign-host")
    assert is_sealed(done)


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}"])
def test_the_servers_own_names_are_taken(app: App, host: str) -> None:
    headers = {"host": host, "cookie": f"rigproof-{PORT}={app.keys.cookie}"}
    assert app.client.get("/api/project", headers=headers).status_code == 200


ORIGINS = [
    "http://evil.example",
    "null",
    f"https://127.0.0.1:{PORT}",
    "http://127.0.0.1",
    f"http://127.0.0.1:{PORT + 1}",
    f"{HERE}.evil.example",
]


@pytest.mark.parametrize("origin", ORIGINS)
def test_another_page_is_refused(app: App, origin: str) -> None:
    for one in ASKED:
        done = app.client.request(one.method, one.path, headers={"origin": origin})
        problem(done, 403, "foreign-origin")
        assert is_sealed(done)


def test_what_changes_something_must_say_where_it_is_from(app: App) -> None:
    before = app.text()
    for one in ASKED:
        if one.method != "GET":
            problem(app.client.request(one.method, one.path, json={}), 403, "foreign-origin")
    assert app.text() == before


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_request_that_the_browser_calls_foreign_is_refused(app: App, site: str) -> None:
    done = app.client.get("/api/project", headers={"sec-fetch-site": site})
    problem(done, 403, "foreign-origin")
    own = app.client.get("/api/project", headers={"sec-fetch-site": "same-origin"})
    assert own.status_code == 200


def test_only_this_machine_is_answered(bench: Path) -> None:
    keys = Keys()
    app = build_app(bench, port=PORT, keys=keys)
    for address in ("192.0.2.7", "testclient"):
        with TestClient(app, base_url=HERE, client=(address, 5)) as client:
            client.cookies.set(f"rigproof-{PORT}", keys.cookie)
            problem(client.get("/api/project"), 403, "not-from-here")


@pytest.mark.parametrize("headers", [{}, {"origin": "http://evil.example"}, {"origin": "null"}])
def test_a_foreign_connection_is_refused(app: App, headers: dict[str, str]) -> None:
    with (
        pytest.raises(WebSocketDisconnect) as refused,
        app.client.websocket_connect(SOCKET, headers=headers),
    ):
        pass
    assert refused.value.code == 1008


def test_a_connection_needs_the_name_and_the_cookie(app: App) -> None:
    """With all of them it stands; without one of them it does not."""
    with app.client.websocket_connect(SOCKET, headers=OWN) as socket:
        assert socket.receive_json()["event"] == "hello"
    with (
        pytest.raises(WebSocketDisconnect),
        app.client.websocket_connect(SOCKET, headers=OWN | {"host": "evil.example"}),
    ):
        pass
    app.client.cookies.clear()
    with pytest.raises(WebSocketDisconnect), app.client.websocket_connect(SOCKET, headers=OWN):
        pass


def test_every_answer_is_sealed(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    """Good answers, errors, what is not there and a bug of ours."""
    monkeypatch.setattr("rigproof.web.api.views.readings_view", lambda _: 1 / 0)
    for path, status in (
        ("/api/project", 200),
        ("/api/trace", 404),
        ("/nothing.js", 404),
        ("/api/undo", 405),
        ("/api/readings", 500),
    ):
        done = app.client.get(path)
        assert done.status_code == status
        assert is_sealed(done), path
        if status >= 400:
            assert set(done.json()) == {"error"}
            assert "Traceback" not in done.text
            assert "division" not in done.text


def test_the_seals_are_what_isolation_and_a_strict_policy_ask_for() -> None:
    """Source: WHATWG HTML (cross-origin isolation), CSP Level 3 (no inline script without 'unsafe-inline')."""
    assert SEALS["cross-origin-opener-policy"] == "same-origin"
    assert SEALS["cross-origin-embedder-policy"] == "require-corp"
    assert SEALS["cache-control"] == "no-store"
    rules = dict(rule.strip().split(" ", 1) for rule in POLICY.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert "unsafe" not in POLICY
    assert "*" not in POLICY


# --- bounds ----------------------------------------------------------------------------------------------------------


def test_a_body_that_is_too_large_is_refused(app: App) -> None:
    body = json.dumps({"token": "x" * 1_100_000})
    headers = OWN | {"content-type": "application/json"}
    problem(app.client.post("/api/edits", content=body, headers=headers), 413, "too-large")


@pytest.mark.parametrize(
    "body",
    [
        "",
        "{",
        "[]",
        "3",
        '{"revision": NaN}',
        "[" * 100_000,
        "\ud800".encode("utf-8", "surrogatepass"),
    ],
)
def test_what_is_no_json_is_refused(app: App, body: str | bytes) -> None:
    headers = OWN | {"content-type": "application/json"}
    problem(app.client.post("/api/edits", content=body, headers=headers), 400, "not-json")


@pytest.mark.parametrize("sort", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_a_form_of_another_page_could_not_be_read(app: App, sort: str) -> None:
    headers = OWN | {"content-type": sort}
    problem(app.client.post("/api/undo", content="{}", headers=headers), 415, "not-json")


# --- paths -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../secret.toml",
        "..%2fsecret.toml",
        "modules/../../secret.toml",
        "/etc/passwd",
        "%00",
        "%2e%2e/secret.toml",
        "samples/kick.wav",
        ".hidden.toml",
    ],
)
def test_a_path_out_of_the_project_is_no_text(app: App, name: str) -> None:
    (app.folder.parent / "secret.toml").write_text('key = "secret"', "utf-8")
    (app.folder / ".hidden.toml").write_text('key = "secret"', "utf-8")
    done = app.client.get(f"/api/texts/{name}")
    assert done.status_code == 404
    assert "secret" not in done.text


def test_a_link_out_of_the_project_is_not_followed(app: App) -> None:
    secret = app.folder.parent / "secret.toml"
    secret.write_text('key = "a-secret-word"', "utf-8")
    (app.folder / "modules" / "secret.toml").symlink_to(secret)
    (app.folder / "rig.toml").unlink()
    (app.folder / "rig.toml").symlink_to(secret)
    for name in ("modules/secret.toml", "rig.toml"):
        done = app.client.get(f"/api/texts/{name}")
        assert done.status_code == 404
    said = app.read()
    assert said["errors"]
    assert "a-secret-word" not in json.dumps(said)
    app.edit({"do": "set-rail", "rail": "+12V", "ma": 1}, status=422)
    assert secret.read_text("utf-8") == 'key = "a-secret-word"'
