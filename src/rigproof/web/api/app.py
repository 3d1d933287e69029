"""The app's server: one table of routes, each of which reads what was asked, calls one function and answers."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import math
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from anyio import to_thread
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp
from starlette.websockets import WebSocket, WebSocketDisconnect

from rigproof.errors import NOWHERE, RigError, ShapeError
from rigproof.files.audio_out import DEPTHS
from rigproof.web.api import views
from rigproof.web.api.beginning import begun, read_wanted
from rigproof.web.api.commands import read_command
from rigproof.web.api.differences import preview_view
from rigproof.web.api.events import CLIENTS_LIMIT, Hub, Listener
from rigproof.web.api.guard import BUG, ENTER, Guard
from rigproof.web.api.jobs import Jobs
from rigproof.web.api.keys import Keys
from rigproof.web.api.library import kinds_view, library_view, sheet_view
from rigproof.web.api.opening import Opening
from rigproof.web.api.page import PAGE, PAGE_PATHS, page_file
from rigproof.web.api.probes import COLUMNS_LIMIT, probe_view
from rigproof.web.api.problems import Refusal, problem_data, refused_edit
from rigproof.web.api.rendering import JACKS_LIMIT, LONGEST_S, MIX, RATES_HZ, Wish
from rigproof.web.api.session import DISK, Change, Session
from rigproof.web.api.sheet_form import change_sheet, draft_view, new_sheet, read_form
from rigproof.web.api.uploads import sample_names, take_sample

BODY_LIMIT_BYTES = 1_000_000
COMMANDS_LIMIT = 200
CLIENT_LIMIT = 64
CABLES_LIMIT = 1000
WISHES = (
    "section", "from_bar", "seconds", "rate_hz", "bits", "stems", "stem_volts", "probes", "without", "fix",
)  # fmt: skip
"""What can be said of a render."""
POLL_S = 0.5
"""How often the folder is looked at for changes from outside. [s]"""
TRY_AGAIN_CLOSE = 1013
"""Close code: try again later. Source: WebSocket Close Code Number Registry (IANA)."""
CLIENT_WORDS_LIMIT = 1_000
log = logging.getLogger(__name__)


@dataclass(slots=True)
class Desk:
    """What every route works with."""

    opening: Opening
    jobs: Jobs
    keys: Keys
    hub: Hub
    cookie_name: str
    poll_s: float = POLL_S

    @property
    def session(self) -> Session:
        """The open project; raises `Refusal` while there is none."""
        return self.opening.session


Handler = Callable[[Desk, Request], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that can be asked: how, what it takes, and the shape of the answer."""

    method: str
    path: str
    handler: Handler
    takes: str
    answers: str
    doc: str = field(default="")


# --- reading what was asked ------------------------------------------------------------------------------------------


async def read_json(request: Request) -> dict[str, Any]:
    """Return the table that a client has sent.

    Raises `Refusal` when it is too large, not said to be JSON, or none.
    """
    sort = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if sort != "application/json":
        raise Refusal(415, "not-json", "Send application/json.")
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > BODY_LIMIT_BYTES:
            raise Refusal(413, "too-large", f"At most {BODY_LIMIT_BYTES:,} bytes.")
    try:
        data = json.loads(bytes(body), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise Refusal(400, "not-json", "This is no JSON.") from None
    if not isinstance(data, dict):
        raise Refusal(400, "not-json", "Send a table.")
    return data


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)


def only(data: dict[str, Any], *known: str) -> None:
    """Raise `Refusal` when a table has a key that nobody reads."""
    unknown = sorted(set(data) - set(known))
    if unknown:
        raise bad_field(unknown[0][:80], f"only {', '.join(known)}")


def bad_field(name: str, expected: str) -> Refusal:
    """Return the refusal of a field."""
    error = ShapeError(NOWHERE, f"'{name}' is not what it should be", expected=expected)
    return Refusal(422, "bad-field", "A field is not what it should be.", errors=[error])


def whole(data: dict[str, Any], name: str) -> int:
    """Return a whole number from 0; raises `Refusal`."""
    value = data.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise bad_field(name, "a whole number from 0")
    return value


def client_of(data: dict[str, Any]) -> str:
    """Return what a client calls itself; raises `Refusal`. Nobody may call themselves the disk."""
    value = data.get("client")
    if not isinstance(value, str) or not 0 < len(value) <= CLIENT_LIMIT or value == DISK:
        raise bad_field("client", f"a name of at most {CLIENT_LIMIT} letters, one a window")
    return value


def flag(data: dict[str, Any], name: str) -> bool:
    """Return true or false, false where nothing is said; raises `Refusal`."""
    value = data.get(name, False)
    if not isinstance(value, bool):
        raise bad_field(name, "true or false")
    return value


def number(text: str, name: str, *, lo: float, hi: float) -> float:
    """Return a number out of an address; raises `Refusal`."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lo <= value <= hi:
        raise bad_field(name, f"{lo:g} to {hi:g}")
    return value


def wish_of(data: dict[str, Any]) -> Wish:
    """Return what a client wants rendered; raises `Refusal`."""
    only(data, *WISHES)
    section, bits = data.get("section"), data.get("bits", "24")
    seconds, rate_hz = data.get("seconds"), data.get("rate_hz", 48_000)
    volts = data.get("stem_volts", 10.0)
    if section is not None and not isinstance(section, str):
        raise bad_field("section", "the id of a section")
    if seconds is not None and (type(seconds) not in (int, float) or not 0 < seconds <= LONGEST_S):
        raise bad_field("seconds", f"above 0 to {LONGEST_S:g}")
    if type(rate_hz) is not int or rate_hz not in RATES_HZ:
        raise bad_field("rate_hz", ", ".join(map(str, RATES_HZ)))
    if not isinstance(bits, str) or bits not in DEPTHS:
        raise bad_field("bits", ", ".join(DEPTHS))
    if type(volts) not in (int, float) or not 0 < volts <= 100:
        raise bad_field("stem_volts", "above 0 to 100")
    return Wish(
        section=section,
        from_bar=whole(data, "from_bar") if data.get("from_bar") is not None else None,
        seconds=None if seconds is None else float(seconds),
        rate_hz=rate_hz,
        bits=bits,
        stems=_jacks(data, "stems"),
        stem_full_scale_v=float(volts),
        probes=_jacks(data, "probes"),
        without=_cables(data),
        fix=_fix(data),
    )


def _cables(data: dict[str, Any]) -> tuple[int, ...]:
    cables = data.get("without", [])
    if not isinstance(cables, list) or len(cables) > CABLES_LIMIT:
        raise bad_field("without", f"a list of at most {CABLES_LIMIT} numbers of cables")
    if not all(type(cable) is int and cable >= 0 for cable in cables):
        raise bad_field("without", "numbers of cables, from 0 in the order of the patch")
    return tuple(dict.fromkeys(cables))


def _fix(data: dict[str, Any]) -> tuple[str, str] | None:
    fix = data.get("fix")
    if fix is None:
        return None
    if not isinstance(fix, dict) or set(fix) != {"finding", "at"}:
        raise bad_field("fix", '{"finding": ..., "at": ...}')
    if not all(isinstance(word, str) for word in fix.values()):
        raise bad_field("fix", "the name of a finding, and its place")
    if data.get("without"):
        raise bad_field("fix", "either a fix, or cables to leave out")
    return fix["finding"], fix["at"]


def _jacks(data: dict[str, Any], name: str) -> tuple[str, ...]:
    jacks = data.get(name, [])
    if not isinstance(jacks, list) or len(jacks) > JACKS_LIMIT:
        raise bad_field(name, f"a list of at most {JACKS_LIMIT} jacks")
    if not all(isinstance(jack, str) for jack in jacks):
        raise bad_field(name, "jacks as module.jack")
    return tuple(jacks)


def answer(data: Any, status: int = 200) -> Response:
    """Return data as an answer."""
    return JSONResponse(data, status)


def change_view(desk: Desk, change: Change) -> dict[str, Any]:
    """Return what a change has come to."""
    return {
        "revision": change.revision,
        "words": change.words,
        "files": list(change.files),
        **desk.session.travel_words(),
    }


# --- what can be asked -----------------------------------------------------------------------------------------------


async def enter(desk: Desk, request: Request) -> Response:
    """Exchange the token of a link for the cookie of this run."""
    data = await read_json(request)
    only(data, "token")
    token = data.get("token")
    if not isinstance(token, str) or not desk.keys.exchange(token):
        raise Refusal(401, "no-key", "The link has been used, or is none of this run.")
    done = answer({"entered": True})
    done.set_cookie(desk.cookie_name, desk.keys.cookie, path="/", httponly=True, samesite="strict")
    return done


async def asked(_desk: Desk, _request: Request) -> Response:
    """Answer what can be asked."""
    return answer(
        {
            "asked": [
                {
                    "method": a.method,
                    "path": a.path,
                    "takes": a.takes,
                    "answers": a.answers,
                    "doc": (a.handler.__doc__ or "").strip().splitlines()[0],
                }
                for a in ASKED
            ]
        }
    )


async def project(desk: Desk, request: Request) -> Response:
    """Answer everything that the files say, and what is wrong with them; `sheets=no` leaves out the sheets."""
    with_sheets = request.query_params.get("sheets") != "no"
    return answer(await to_thread.run_sync(lambda: _project(desk.opening, with_sheets)))


def _project(opening: Opening, with_sheets: bool) -> dict[str, Any]:
    session = opening.opened
    if session is None:
        return views.empty_view(opening.folder.name, opening.errors)
    return views.project_view(session, with_sheets=with_sheets)


async def begin(desk: Desk, request: Request) -> Response:
    """Begin a project where there is none; nothing is written over."""
    data = await read_json(request)
    by = client_of(data)
    data.pop("client")
    return answer(await to_thread.run_sync(_begin, desk.opening, data, by), 201)


def _begin(opening: Opening, data: dict[str, Any], by: str) -> dict[str, Any]:
    try:
        files, words, says = begun(opening, read_wanted(data))
    except RigError as error:
        raise refused_edit([error]) from None
    session = opening.begin(files, by=by, words=words)
    return {
        "revision": session.revision,
        "words": words,
        "files": sorted(files),
        "says": list(says),
        **session.travel_words(),
    }


async def text(desk: Desk, request: Request) -> Response:
    """Answer one of the project's texts as it stands on the disk."""
    name = request.path_params["name"]
    found = await to_thread.run_sync(desk.session.text, name)
    return answer({"revision": desk.session.revision, "file": name, "text": found})


async def proof(desk: Desk, _request: Request) -> Response:
    """Answer the survey and all findings with their fixes."""
    return answer(await to_thread.run_sync(lambda: views.proof_view(desk.session.proved())))


async def readings(desk: Desk, _request: Request) -> Response:
    """Answer the volts, level and pulses at every jack, and when every control is heard."""
    return answer(await to_thread.run_sync(lambda: views.readings_view(desk.session)))


async def trace(desk: Desk, request: Request) -> Response:
    """Answer all that a control, jack or section leads to."""
    start = request.query_params.get("start", "")
    raw = request.query_params.get("at")
    at = None if raw is None else number(raw, "at", lo=-1e9, hi=1e9)
    return answer(
        await to_thread.run_sync(lambda: views.trace_view(desk.session.proved(), start, at))
    )


async def ends(desk: Desk, request: Request) -> Response:
    """Answer to which jacks a cable from a jack may go, and why not to the others."""
    jack = request.query_params.get("jack", "")
    raw = request.query_params.get("without")
    without = None if raw is None else int(number(raw, "without", lo=0, hi=1e9))
    return answer(await to_thread.run_sync(views.ends_view, desk.session, jack, without))


async def drawing(desk: Desk, _request: Request) -> Response:
    """Answer what there is to draw: modules, jacks, the ways between them, what belongs together."""
    return answer(await to_thread.run_sync(views.diagram_view, desk.session))


async def edit(desk: Desk, request: Request) -> Response:
    """Make edits, all or none; they are on the disk when this is answered."""
    data = await read_json(request)
    only(data, "client", "revision", "edits", "keep_mine")
    raw = data.get("edits")
    if not isinstance(raw, list) or not 0 < len(raw) <= COMMANDS_LIMIT:
        raise bad_field("edits", f"a list of 1 to {COMMANDS_LIMIT} commands")
    try:
        edits = [read_command(command) for command in raw]
    except RigError as error:
        raise refused_edit([error]) from None
    by, revision, keep_mine = client_of(data), whole(data, "revision"), flag(data, "keep_mine")
    change = await to_thread.run_sync(
        lambda: desk.session.edit(edits, by=by, revision=revision, keep_mine=keep_mine)
    )
    return answer(change_view(desk, change))


async def fix(desk: Desk, request: Request) -> Response:
    """Do what a finding's own fix says."""
    data = await read_json(request)
    only(data, "client", "revision", "finding", "at", "seen")
    finding, at, seen = data.get("finding"), data.get("at"), data.get("seen")
    if not isinstance(finding, str) or not isinstance(at, str):
        raise bad_field("finding", "the name of a finding, and at, its place")
    if seen is not None and not isinstance(seen, str):
        raise bad_field("seen", "what the fix said when it was looked at")
    by, revision = client_of(data), whole(data, "revision")
    change = await to_thread.run_sync(
        lambda: desk.session.apply_fix(finding, at, by=by, revision=revision, seen=seen)
    )
    return answer(change_view(desk, change))


async def preview(desk: Desk, request: Request) -> Response:
    """Answer what a finding's fix would do to the files, line by line; nothing is written."""
    query = request.query_params
    finding, at = query.get("finding", ""), query.get("at", "")
    return answer(await to_thread.run_sync(preview_view, desk.session, finding, at))


async def undo(desk: Desk, request: Request) -> Response:
    """Take back the last step, whoever made it."""
    return await _travel(desk, request, desk.session.undo)


async def redo(desk: Desk, request: Request) -> Response:
    """Do again what was taken back last."""
    return await _travel(desk, request, desk.session.redo)


async def _travel(desk: Desk, request: Request, go: Callable[..., Change]) -> Response:
    data = await read_json(request)
    only(data, "client", "revision")
    by, revision = client_of(data), whole(data, "revision")
    return answer(change_view(desk, await to_thread.run_sync(lambda: go(by=by, revision=revision))))


async def sheet(desk: Desk, request: Request) -> Response:
    """Write a new module sheet from a form."""
    data = await read_json(request)
    by = client_of(data)
    data.pop("client")
    try:
        form = read_form(data)
    except RigError as error:
        raise refused_edit([error]) from None
    return answer(await to_thread.run_sync(lambda: new_sheet(desk.session, form, by=by)), 201)


async def changed_sheet(desk: Desk, request: Request) -> Response:
    """Write what a form changes of one of the project's own sheets."""
    data = await read_json(request)
    by, revision, keep_mine = client_of(data), whole(data, "revision"), flag(data, "keep_mine")
    for key in ("client", "revision", "keep_mine"):
        data.pop(key, None)
    try:
        form = read_form(data | {"change": True})
    except RigError as error:
        raise refused_edit([error]) from None
    change = await to_thread.run_sync(
        lambda: change_sheet(desk.session, form, by=by, revision=revision, keep_mine=keep_mine)
    )
    return answer(change_view(desk, change))


async def draft(desk: Desk, request: Request) -> Response:
    """Answer what the sheet of a form would be, and write nothing."""
    data = await read_json(request)
    data.pop("client", None)
    try:
        form = read_form(data)
    except RigError as error:
        raise refused_edit([error]) from None
    return answer(await to_thread.run_sync(draft_view, desk.session, form))


async def library(desk: Desk, _request: Request) -> Response:
    """Answer every sheet that can be added, in short."""
    return answer(await to_thread.run_sync(library_view, desk.opening.folder))


async def library_sheet(desk: Desk, request: Request) -> Response:
    """Answer one sheet in full, with its text."""
    name = request.path_params["name"]
    return answer(await to_thread.run_sync(sheet_view, desk.opening.folder, name))


async def kinds(_desk: Desk, _request: Request) -> Response:
    """Answer the section kinds that a sheet can be built from."""
    return answer(await to_thread.run_sync(kinds_view))


async def samples(desk: Desk, _request: Request) -> Response:
    """Answer which sound files lie in the samples folder."""
    return answer({"files": await to_thread.run_sync(sample_names, desk.session.folder)})


async def add_sample(desk: Desk, request: Request) -> Response:
    """Bring a sound file into the samples folder; none is written over."""
    name = request.path_params["name"]
    return answer(await take_sample(desk.session.folder, name, request.stream()), 201)


async def renders(desk: Desk, _request: Request) -> Response:
    """Answer all renders of this run."""
    return answer({"jobs": [job.view() for job in list(desk.jobs.jobs.values())]})


async def start_render(desk: Desk, request: Request) -> Response:
    """Begin to render a stretch of the patch as it stands now."""
    wish = wish_of(await read_json(request))
    job = await to_thread.run_sync(desk.jobs.start, wish)
    return answer(job.view(), 202)


async def render(desk: Desk, request: Request) -> Response:
    """Answer where a render stands."""
    return answer(desk.jobs.get(request.path_params["id"]).view())


async def stop_render(desk: Desk, request: Request) -> Response:
    """Stop a render, or forget one that is over."""
    job = await to_thread.run_sync(desk.jobs.cancel, request.path_params["id"])
    return answer(job.view())


async def render_file(desk: Desk, request: Request) -> Response:
    """Answer a file of a render, whole or in ranges."""
    params = request.path_params
    path = desk.jobs.file(params["id"], params["file"])
    return FileResponse(path, media_type="audio/wav")


async def probe(desk: Desk, request: Request) -> Response:
    """Answer what a probe at a jack has seen: outline, level, spectrum; `mix` is what the room hears."""
    query = request.query_params
    jack = query.get("jack", "")
    file = "mix.wav" if jack == MIX else f"probe.{jack}.wav"
    path = desk.jobs.file(request.path_params["id"], file)
    at_s = number(query.get("at_s", "0"), "at_s", lo=0.0, hi=LONGEST_S)
    length_s = number(query.get("length_s", "1"), "length_s", lo=1e-4, hi=LONGEST_S)
    columns = int(number(query.get("columns", "800"), "columns", lo=1, hi=COLUMNS_LIMIT))
    return answer(
        await to_thread.run_sync(
            lambda: probe_view(path, at_s=at_s, length_s=length_s, columns=columns)
        )
    )


CHANGED = "{revision, words, files, undo, redo}"
WHO = "{client, revision}"
FORM = "name, like, change, kinds, wires, housing, title, summary, hp, depth_mm, typical, draw_ma, jacks, controls"
ASKED = (
    Asked("POST", ENTER, enter, "{token}", "{entered}, and the cookie"),
    Asked("GET", "/api", asked, "", "{asked: [{method, path, takes, answers, doc}]}"),
    Asked(
        "GET",
        "/api/project",
        project,
        "?sheets=no",
        "{empty, revision, folder, files, errors, undo, redo, rig, patch, set, insides, sheets, controls}",
    ),
    Asked(
        "POST",
        "/api/begin",
        begin,
        "{client, start: demo | blank | owned, name, rows, rails_ma, tempo_bpm, modules, controller, interface, "
        "first_sound}",
        "{revision, words, files, undo, redo, says}",
    ),
    Asked("GET", "/api/texts/{name:path}", text, "", "{revision, file, text}"),
    Asked("GET", "/api/proof", proof, "", "{revision, survey, counts, findings}"),
    Asked(
        "GET",
        "/api/readings",
        readings,
        "",
        "{revision, jacks, heard_after, differences, headroom}",
    ),
    Asked("GET", "/api/trace", trace, "?start=&at=", "{revision, start, at, hops, heard, ...}"),
    Asked(
        "GET",
        "/api/ends",
        ends,
        "?jack=&without=",
        "{revision, jack, ends: [{jack, ok, why, warns, lead, cables}]}",
    ),
    Asked("GET", "/api/diagram", drawing, "", "{revision, blocks, edges, meetings, groups}"),
    Asked(
        "POST",
        "/api/edits",
        edit,
        "{client, revision, edits: [{do, ...}], keep_mine}",
        CHANGED,
    ),
    Asked("POST", "/api/fixes", fix, "{client, revision, finding, at, seen}", CHANGED),
    Asked(
        "GET",
        "/api/fixes/preview",
        preview,
        "?finding=&at=",
        "{revision, finding, at, words, safe, files: [{file, hunks: [{old, new, lines}]}]}",
    ),
    Asked("POST", "/api/undo", undo, WHO, CHANGED),
    Asked("POST", "/api/redo", redo, WHO, CHANGED),
    Asked("POST", "/api/sheets", sheet, f"{{client, {FORM}}}", "{revision, file, sheet, flaws}"),
    Asked("POST", "/api/sheets/draft", draft, f"{{{FORM}}}", "{file, text, sheet, flaws, beyond}"),
    Asked(
        "POST",
        "/api/sheets/change",
        changed_sheet,
        f"{{client, revision, keep_mine, {FORM}}}",
        CHANGED,
    ),
    Asked("GET", "/api/library", library, "", "{sheets}"),
    Asked(
        "GET",
        "/api/library/{name}",
        library_sheet,
        "",
        "{name, file, is_own, errors, sheet, text}",
    ),
    Asked("GET", "/api/kinds", kinds, "", "{kinds}"),
    Asked("GET", "/api/samples", samples, "", "{files}"),
    Asked(
        "PUT",
        "/api/samples/{name}",
        add_sample,
        "the sound file",
        "{file, rate_hz, frames, channels, seconds}",
    ),
    Asked("GET", "/api/renders", renders, "", "{jobs}"),
    Asked(
        "POST",
        "/api/renders",
        start_render,
        f"{{{', '.join(WISHES)}}}",
        "{id, revision, stage, stopping, title, start_s, ready_ratio, done_s, seconds, rate_hz, files, errors, "
        "without, fix}",
    ),
    Asked("GET", "/api/renders/{id}", render, "", "the same, and {clipped_samples, loudness}"),
    Asked("DELETE", "/api/renders/{id}", stop_render, "", "the same"),
    Asked("GET", "/api/renders/{id}/files/{file}", render_file, "", "WAV, whole or in ranges"),
    Asked(
        "GET",
        "/api/renders/{id}/probe",
        probe,
        "?jack=&at_s=&length_s=&columns=",
        "{at_s, length_s, lanes: [{low_v, high_v, level, spectrum: {step_hz, db}}]}",
    ),
)
"""All that can be asked, and in which shape it is answered. What is wrong is answered as
{error: {name, message, errors: [{sort, where, problem, found, expected, known, nearest}]}}."""
EVENTS = "/api/events"
"""The WebSocket: {event: "hello", revision}, then {event: "changed", revision, by, words, files, errors, undo, redo}
and {event: "job", id, stage, done_s, seconds}."""


async def _listen(desk: Desk, socket: WebSocket) -> None:
    """Tell a client everything that happens until it goes."""
    if len(desk.hub.listeners) >= CLIENTS_LIMIT:
        await socket.close(TRY_AGAIN_CLOSE)
        return
    await socket.accept()
    listener = Listener()
    desk.hub.listeners.add(listener)
    hearing = asyncio.create_task(_hear(socket))
    try:
        await socket.send_json({"event": "hello", "revision": desk.opening.revision})
        while True:
            next_event = asyncio.create_task(listener.queue.get())
            await asyncio.wait({next_event, hearing}, return_when=asyncio.FIRST_COMPLETED)
            if not next_event.done():
                next_event.cancel()
                return
            event = next_event.result()
            if event is None:
                await socket.close(TRY_AGAIN_CLOSE)
                return
            await socket.send_json(event)
    except WebSocketDisconnect:
        return
    finally:
        desk.hub.listeners.discard(listener)
        hearing.cancel()
        with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect):
            await hearing


async def _hear(socket: WebSocket) -> None:
    """Wait until a client goes. It has nothing to say here; one that says too much is let go."""
    said = 0
    while True:
        message = await socket.receive()
        if message["type"] == "websocket.disconnect":
            return
        said += len(message.get("text") or message.get("bytes") or "")
        if said > CLIENT_WORDS_LIMIT:
            await socket.close(TRY_AGAIN_CLOSE)
            return


def _route(desk: Desk, one: Asked) -> Route:
    async def endpoint(request: Request) -> Response:
        return await one.handler(desk, request)

    return Route(one.path, endpoint, methods=[one.method], name=one.handler.__name__)


async def _refused(_request: Request, error: Exception) -> Response:
    assert isinstance(error, Refusal)
    return answer(problem_data(error), error.status)


async def _not_there(_request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    name = {404: "no-such-place", 405: "no-such-method"}.get(error.status_code, "refused")
    refusal = Refusal(error.status_code, name, error.detail)
    return JSONResponse(problem_data(refusal), error.status_code, headers=error.headers)


async def _bug(_request: Request, _error: Exception) -> Response:
    return answer(problem_data(BUG), BUG.status)


async def _gone(_request: Request, _error: Exception) -> Response:
    return answer(problem_data(Refusal(400, "gone", "The client went away.")), 400)


def build_app(
    path: Path, *, port: int, keys: Keys, poll_s: float = POLL_S, page: Path = PAGE
) -> ASGIApp:
    """Return the server's app for a folder or patch file, behind its guard. `page` is the built page.

    Raises `RigError` when there is something at the path that cannot be opened.
    """
    hub = Hub()
    opening = Opening(path, tell=hub.tell)
    cookie_name = f"rigproof-{port}"
    desk = Desk(opening, Jobs(opening, hub.tell), keys, hub, cookie_name, poll_s)

    @asynccontextmanager
    async def running(_app: Starlette) -> AsyncIterator[None]:
        hub.loop = asyncio.get_running_loop()
        desk.jobs.open()
        watching = asyncio.create_task(_watch(desk))
        try:
            yield
        finally:
            watching.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await watching
            hub.loop = None
            await to_thread.run_sync(desk.jobs.close)

    async def listen(socket: WebSocket) -> None:
        await _listen(desk, socket)

    async def file(request: Request) -> Response:
        return await to_thread.run_sync(page_file, page, request.scope["path"].removeprefix("/"))

    app = Starlette(
        routes=[
            *(_route(desk, one) for one in ASKED),
            WebSocketRoute(EVENTS, listen),
            *(Route(path, file, methods=["GET"]) for path in PAGE_PATHS),
        ],
        exception_handlers={
            Refusal: _refused,
            HTTPException: _not_there,
            ClientDisconnect: _gone,
            Exception: _bug,
        },
        lifespan=running,
    )
    return Guard(app, port=port, keys=keys)


async def _watch(desk: Desk) -> None:
    """Look at the folder again and again; a look that fails is told in the log, and the next one comes."""
    while True:
        await asyncio.sleep(desk.poll_s)
        try:
            if not await to_thread.run_sync(desk.opening.refresh):
                await to_thread.run_sync(desk.opening.prepare)
        except Exception:
            log.exception("the folder could not be looked at")
