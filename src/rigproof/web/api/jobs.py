"""Render jobs: one runs at a time, a few wait, the last ones are kept until the session ends. Their files lie in a
folder of their own that nobody else may read, and go with the session.
"""

from __future__ import annotations

import contextlib
import logging
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import partial
from pathlib import Path
from queue import Queue
from typing import Any

from rigproof.errors import NOWHERE, RigError, RigErrors
from rigproof.model.edits import apply_edits
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from rigproof.net.stretch import Stretch
from rigproof.web.api.opening import Opening
from rigproof.web.api.plain import plain
from rigproof.web.api.problems import Refusal, error_data, refused_edit
from rigproof.web.api.rendering import (
    Stopped,
    Track,
    Wish,
    ears_of,
    load_sounds,
    render_tracks,
    tracks_of,
    wished_stretch,
)
from rigproof.web.api.session import Event

WAITING_LIMIT = 4
KEPT_LIMIT = 8
TELL_S = 0.2
"""Clients are told of progress no more often than this. [s]"""
FREE_BYTES = 200_000_000
"""So much of the disk is left free."""
BYTES_A_SAMPLE = 4
log = logging.getLogger(__name__)


class Stage(StrEnum):
    """Where a job stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_over(self) -> bool:
        """Whether nothing more comes of it."""
        return self in (Stage.DONE, Stage.FAILED, Stage.CANCELLED)


@dataclass(slots=True)
class Job:
    """One render."""

    id: str
    revision: int
    project: Project
    wish: Wish
    stretch: Stretch
    tracks: tuple[Track, ...]
    folder: Path
    stage: Stage = Stage.WAITING
    ready_ratio: float = 0.0
    done_s: float = 0.0
    errors: list[dict[str, Any]] = field(default_factory=list)
    heard: dict[str, Any] = field(default_factory=dict)
    stop: threading.Event = field(default_factory=threading.Event)

    def view(self) -> dict[str, Any]:
        """Return it as clients see it."""
        return {
            "id": self.id,
            "revision": self.revision,
            "stage": self.stage.value,
            "title": self.stretch.title,
            "start_s": self.stretch.start_s,
            "stopping": self.stop.is_set() and not self.stage.is_over,
            "ready_ratio": self.ready_ratio,
            "done_s": self.done_s,
            "seconds": self.stretch.seconds,
            "rate_hz": self.wish.rate_hz,
            "files": [
                {
                    "file": t.file,
                    "sort": t.sort,
                    "name": t.name,
                    "channels": len(t.rows),
                    "full_scale_v": t.full_scale_v,
                }
                for t in self.tracks
            ],
            "errors": self.errors,
            "without": list(self.wish.without),
            "fix": None
            if self.wish.fix is None
            else {"finding": self.wish.fix[0], "at": self.wish.fix[1]},
            **plain(self.heard),
        }


class Jobs:
    """The renders of one session. `close` stops and removes everything."""

    def __init__(self, opening: Opening, tell: Callable[[Event], None]) -> None:
        self.opening = opening
        self.tell = tell
        self.jobs: dict[str, Job] = {}
        self._folder = Path()
        self._queue: Queue[Job | None] = Queue()
        self._lock = threading.Lock()
        self._count = 0
        self._thread: threading.Thread | None = None

    def open(self) -> None:
        """Make the folder for the files and be ready to render."""
        self._folder = Path(tempfile.mkdtemp(prefix="rigproof-"))
        self._thread = threading.Thread(target=self._run, name="render", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop what runs, forget what waits, and remove all files."""
        for job in list(self.jobs.values()):
            job.stop.set()
        self._queue.put(None)
        if self._thread is not None:
            self._thread.join(timeout=30.0)
        shutil.rmtree(self._folder, ignore_errors=True)

    def start(self, wish: Wish) -> Job:
        """Put a render of the project as it stands now in the queue.

        Raises `Refusal` when the project has errors, the wish makes no sense, too many wait or the disk is too full.
        """
        state = self.opening.session.state
        project = state.loaded.project
        if project is None or state.errors:
            raise Refusal(
                409, "has-errors", "The project has errors; mend them first.", errors=state.errors
            )
        try:
            as_it_is = flatten(project, rate_hz=float(wish.rate_hz))
            project = self._changed(project, wish)
            net = flatten(project, rate_hz=float(wish.rate_hz)) if wish.is_what_if else as_it_is
            ears = tuple(dict.fromkeys((*ears_of(as_it_is), *ears_of(net))))
            stretch, tracks = wished_stretch(net, wish), tracks_of(net, wish, ears=ears)
            self._require_room(stretch, tracks, wish)
        except RigErrors as wrong:
            raise refused_edit(wrong.errors) from None
        except RigError as error:
            raise refused_edit([error]) from None
        with self._lock:
            waiting = [j for j in self.jobs.values() if not j.stage.is_over]
            if len(waiting) > WAITING_LIMIT:
                raise Refusal(429, "too-many-jobs", "Too many renders wait; cancel one first.")
            self._forget()
            self._count += 1
            id_ = str(self._count)
            folder = self._folder / id_
            folder.mkdir()
            job = Job(id_, state.revision, project, wish, stretch, tracks, folder)
            self.jobs[id_] = job
        self._queue.put(job)
        return job

    def _changed(self, project: Project, wish: Wish) -> Project:
        """Return the project with what the wish leaves out or mends; the files stay as they are."""
        if wish.fix is not None:
            return apply_edits(project, self.opening.session.fix(*wish.fix).edits)
        cables = project.patch.cables
        gone = sorted(set(wish.without) - set(range(len(cables))))
        if gone:
            known = f"0 to {len(cables) - 1}"
            raise RigError(NOWHERE, "there is no such cable", found=str(gone[0]), expected=known)
        kept = tuple(c for i, c in enumerate(cables) if i not in wish.without)
        return replace(project, patch=replace(project.patch, cables=kept))

    def get(self, id_: str) -> Job:
        """Return a job; raises `Refusal` when there is none."""
        if id_ not in self.jobs:
            raise Refusal(404, "no-such-job", "There is no such render.")
        return self.jobs[id_]

    def cancel(self, id_: str) -> Job:
        """Stop a job, or forget one that is over with its files."""
        job = self.get(id_)
        with self._lock:
            job.stop.set()
            if job.stage is Stage.WAITING:
                job.stage = Stage.CANCELLED
            if job.stage.is_over:
                self.jobs.pop(id_, None)
                shutil.rmtree(job.folder, ignore_errors=True)
        self.tell(_event(job))
        return job

    def file(self, id_: str, name: str) -> Path:
        """Return a file of a job that is done; raises `Refusal` when there is none."""
        job = self.get(id_)
        if job.stage is not Stage.DONE or name not in {t.file for t in job.tracks}:
            raise Refusal(404, "no-such-file", "This render has no such file, or not yet.")
        return job.folder / name

    def _require_room(self, stretch: Stretch, tracks: tuple[Track, ...], wish: Wish) -> None:
        channels = sum(len(track.rows) for track in tracks)
        needed = int(stretch.seconds * wish.rate_hz * channels * BYTES_A_SAMPLE)
        if shutil.disk_usage(self._folder).free < needed + FREE_BYTES:
            raise RigError(
                NOWHERE, "the disk is too full for this", expected=f"{needed:,} bytes free"
            )

    def _forget(self) -> None:
        over = [job for job in self.jobs.values() if job.stage.is_over]
        for job in over[: max(0, len(over) - KEPT_LIMIT + 1)]:
            self.jobs.pop(job.id, None)
            shutil.rmtree(job.folder, ignore_errors=True)

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            with self._lock:
                if job.stop.is_set():
                    job.stage = Stage.CANCELLED
                    continue
                job.stage = Stage.RUNNING
            try:
                self._render(job)
                stage = Stage.DONE
            except Stopped:
                stage = Stage.CANCELLED
            except RigErrors as wrong:
                stage, job.errors = Stage.FAILED, [error_data(error) for error in wrong.errors]
            except RigError as error:
                stage, job.errors = Stage.FAILED, [error_data(error)]
            except Exception:  # the thread must outlive a bug of ours
                log.exception("a render failed")
                stage = Stage.FAILED
                job.errors = [error_data(RigError(NOWHERE, "something in the program went wrong"))]
            with self._lock:
                job.stage = stage
            with contextlib.suppress(RuntimeError):
                self.tell(_event(job))

    def _render(self, job: Job) -> None:
        told_s = 0.0

        def tell(done_s: float, ready_ratio: float = 1.0) -> None:
            nonlocal told_s
            if job.stop.is_set():
                raise Stopped
            job.done_s, job.ready_ratio = done_s, ready_ratio
            now_s = time.monotonic()
            if now_s - told_s >= TELL_S:
                told_s = now_s
                self.tell(_event(job))

        net = flatten(job.project, rate_hz=float(job.wish.rate_hz))
        sounds = load_sounds(net, self.opening.folder)
        tell(0.0, 0.0)
        job.heard = render_tracks(
            net,
            job.stretch,
            job.tracks,
            sounds=sounds,
            folder=job.folder,
            tell=tell,
            tell_ready=partial(tell, 0.0),
        )


def _event(job: Job) -> Event:
    return {
        "event": "job",
        "id": job.id,
        "stage": job.stage.value,
        "done_s": job.done_s,
        "seconds": job.stretch.seconds,
    }
