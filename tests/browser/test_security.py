"""What a page from elsewhere can do to an open project from within the performer's own browser: nothing.

The performer has the app open, so the browser holds its cookie; another local server stands for the foreign page.
Source of the attempts: OWASP cheat sheets on cross-site request forgery and on WebSockets; W3C, Fetch Metadata Request
Headers (a page on another port of one machine is the same site, so the cookie alone does not keep it out).
"""

import json
import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.driving import App, Faults, enter, go
from tests.browser.hands import click, files_in

EDIT = {
    "client": "elsewhere",
    "revision": 0,
    "keep_mine": True,
    "edits": [{"do": "decline", "finding": "clips-with-all-up", "at": "patch", "reason": "ha"}],
}
ATTEMPTS = """async ([app, edit]) => {
  const tried = {};
  const tryTo = async (name, act) => {
    try { tried[name] = await act(); } catch (error) { tried[name] = `kept out: ${error.name}`; }
  };
  const body = JSON.stringify(edit);
  const mine = { credentials: "include" };
  const json = { "content-type": "application/json" };
  const within = (element, parent = document.body) => new Promise((come) => {
    element.onload = () => come("loaded");
    element.onerror = () => come("kept out: error");
    parent.append(element);
  });
  await tryTo("read", async () => (await fetch(app + "api/project", mine)).text());
  await tryTo("read unseen", async () => (await fetch(app + "api/project", { ...mine, mode: "no-cors" })).text());
  await tryTo("edit", async () =>
    (await fetch(app + "api/edits", { ...mine, method: "POST", headers: json, body })).text());
  await tryTo("edit unseen", async () =>
    (await fetch(app + "api/edits", { ...mine, mode: "no-cors", method: "POST", body })).text());
  await tryTo("undo unseen", async () =>
    (await fetch(app + "api/undo", { ...mine, mode: "no-cors", method: "POST", body })).text());
  await tryTo("render unseen", async () =>
    (await fetch(app + "api/renders", { ...mine, mode: "no-cors", method: "POST", body: '{"seconds":1}' })).text());
  await tryTo("upload", async () =>
    (await fetch(app + "api/samples/x.wav", { ...mine, method: "PUT", body: "RIFF" })).text());
  await tryTo("beacon", async () => (navigator.sendBeacon(app + "api/edits", body), "kept out: says nothing"));
  await tryTo("listen", () => new Promise((come) => {
    const socket = new WebSocket(app.replace("http", "ws") + "api/events");
    socket.onopen = () => come("open");
    socket.onmessage = (message) => come(message.data);
    socket.onclose = () => come("kept out: closed");
  }));
  await tryTo("as a script", () =>
    within(Object.assign(document.createElement("script"), { src: app + "api/project" })));
  await tryTo("as a style", () =>
    within(Object.assign(document.createElement("link"), { rel: "stylesheet", href: app + "api/project" })));
  await tryTo("in a frame", async () => {
    const frame = Object.assign(document.createElement("iframe"), { src: app });
    await within(frame);
    return frame.contentDocument?.body?.innerText || "kept out: another's";
  });
  await tryTo("in a window", async () => {
    const opened = window.open(app);
    await new Promise((come) => setTimeout(come, 300));
    return opened?.document?.body?.innerText || "kept out: closed to the opener";
  });
  return tried;
}"""
PAGE = """<!doctype html><title>elsewhere</title><body>
<form method="post" enctype="text/plain" action="{app}api/edits">
<input type="hidden" name='{head}' value='"}}'><button>Win a patch cable</button></form>"""
"""A form whose body reads as JSON: `{"client": ..., "more": "="}`."""


@pytest.fixture
def elsewhere() -> Iterator[ThreadingHTTPServer]:
    """Another server of this machine; `server.page` is what it serves."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = getattr(self.server, "page", "").encode()
            self.send_response(200)
            self.send_header("content-type", "text/html; charset=utf-8")
            self.send_header("content-length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_said: Any) -> None:
            """Say nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server
        server.shutdown()


def test_a_page_from_elsewhere_can_neither_read_nor_change_nor_listen(
    app: App, page: Page, faults: Faults, elsewhere: ThreadingHTTPServer
) -> None:
    go(page, "Proof")
    page.get_by_test_id("finding-clips-with-all-up").wait_for()
    before = files_in(app.folder)
    head = json.dumps(EDIT)[:-1] + ', "more": "'
    elsewhere.page = PAGE.format(app=app.address, head=head)  # type: ignore[attr-defined]
    port = elsewhere.server_address[1]  # as `localhost` it is not the address that tests may ask
    faults.allow(rf":{port}/|{app.address}|Cross-Origin|cross-origin|CORS|WebSocket|frame|40[13]")

    for host in ("127.0.0.1", "localhost"):  # the same site on another port, and another site
        foreign = page.context.new_page()
        foreign.goto(f"http://{host}:{port}/")
        tried = foreign.evaluate(ATTEMPTS, [app.address, EDIT])
        assert len(tried) == 13
        got_in = {n: said for n, said in tried.items() if not is_kept_out(said)}
        assert not got_in
        with foreign.expect_navigation(url=f"{app.address}api/edits") as answer:
            click(foreign.get_by_role("button", name="Win a patch cable"))
        assert answer.value.status == 403
        foreign.close()

    assert files_in(app.folder) == before
    assert "x.wav" not in {p.name for p in app.folder.rglob("*")}
    expect(page.get_by_test_id("saved")).to_have_attribute("data-revision", "0")
    # The proof that the attempts can succeed at all: the app's own page does with the same body what they could not.
    done = page.evaluate(
        """async (edit) => (await fetch("/api/edits", {
          method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(edit) })).status""",
        EDIT,
    )
    assert done == 200
    assert files_in(app.folder) != before


def is_kept_out(said: str) -> bool:
    """Whether an attempt has come to nothing: refused by the browser, or answered with nothing to be read."""
    return said == "" or said.startswith("kept out")


def test_who_has_no_key_sees_nothing_and_a_key_opens_once(
    app: App, page: Page, open_page: Any, faults: Faults
) -> None:
    """The link that was printed has been followed by `page`."""
    faults.allow("401|403|WebSocket")
    for address in (app.address, app.link):
        other = open_page()
        other.goto(address)
        expect(other.get_by_role("main")).to_contain_text("needs the link")
        assert other.request.get(f"{app.address}api/project").status == 401
    assert page.request.get(f"{app.address}api/project").status == 200


def test_the_link_opens_a_window_that_stands_at_the_address_already(
    app: App, open_page: Any, faults: Faults
) -> None:
    """Only what is behind the # changes then, so that the browser loads nothing anew."""
    faults.allow("401|403|WebSocket")
    page = open_page()
    page.goto(app.address)
    expect(page.get_by_role("main")).to_contain_text("needs the link")
    page.goto(app.link)
    expect(page.get_by_test_id("project-name")).to_be_visible()
    go(page, "Proof")
    page.goto(app.restart().link)
    expect(page).to_have_url(re.compile("#/proof$"))
    assert page.request.get(f"{app.address}api/project").status == 200


def test_another_name_of_this_machine_is_no_way_in(
    app: App, open_page: Any, faults: Faults
) -> None:
    """A foreign name that is pointed at this machine. Source: CWE-350, reliance on reverse DNS; DNS rebinding."""
    faults.allow("403|rebound")
    page = open_page()
    page.route(
        "http://rebound.invalid/**",
        lambda route: route.fulfill(
            response=page.request.get(
                f"{app.address}{route.request.url.split('/', 3)[3]}",
                headers={"host": "rebound.invalid"},
            )
        ),
    )
    answer = page.goto("http://rebound.invalid/api/project")
    assert answer.status == 403
    enter(page, app)  # by its own name it comes in
