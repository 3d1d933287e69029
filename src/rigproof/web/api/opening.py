"""The folder that is open: a project, or none yet, which the app can begin and which may also appear from outside."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from pathlib import Path

from rigproof.errors import FileError, RigError
from rigproof.files.begin import holds_project, write_project
from rigproof.files.text import PATCH
from rigproof.web.api import journal
from rigproof.web.api.problems import Refusal, refused_edit
from rigproof.web.api.session import DISK, Event, Session


class Opening:
    """One folder and, as soon as there is a project in it, its session. Every method may be called from any thread."""

    def __init__(self, path: Path, *, tell: Callable[[Event], None] | None = None) -> None:
        """`path` is a folder, which may be empty or missing, or one patch file.

        Raises `RigError` when there is something that cannot be opened, several patches for instance.
        """
        self.path = path
        self.tell = tell
        self._lock = threading.Lock()
        self._session: Session | None = None
        self.errors: tuple[RigError, ...] = ()
        """Why what has appeared meanwhile cannot be opened."""
        if path.name.endswith(PATCH):
            self.folder = path.parent.resolve()
        else:
            self.folder = path.resolve()
            if path.is_dir():
                journal.finish(self.folder)
        if path.name.endswith(PATCH) or (path.exists() and not path.is_dir()) or self._is_there():
            self._session = Session(path, tell=tell)

    def _is_there(self) -> bool:
        return holds_project(self.folder)

    @property
    def session(self) -> Session:
        """The open project; raises `Refusal` while there is none."""
        session = self.opened
        if session is None:
            raise Refusal(
                409, "no-project", "There is no project in this folder yet.", errors=self.errors
            )
        return session

    @property
    def opened(self) -> Session | None:
        """The open project, None while there is none. It looks at the disk itself when it is asked."""
        if self._session is None:
            self.refresh()
        return self._session

    @property
    def revision(self) -> int:
        """The number of the last change; 0 while there is no project."""
        session = self._session
        return 0 if session is None else session.revision

    def refresh(self) -> bool:
        """Take in what has changed on the disk; returns whether anything has."""
        session = self._session
        if session is not None:
            return session.refresh()
        with self._lock:
            if self._session is None and self._is_there():
                return self._open(by=DISK, words="a project has appeared on the disk")
        return False

    def prepare(self) -> None:
        """Do ahead what the next edit would have to wait for."""
        if self._session is not None:
            self._session.prepare()

    def begin(self, files: Mapping[str, bytes], *, by: str, words: str) -> Session:
        """Write the files of a new project and open it.

        Raises `Refusal` when there is one already, a file is in the way, or they may not be written.
        """
        with self._lock:
            if self._session is not None:
                raise Refusal(409, "has-project", "There is a project in this folder already.")
            try:
                write_project(self.folder, files)
            except RigError as error:
                raise refused_edit([error]) from None
            self._open(by=by, words=words)
        return self.session

    def _open(self, *, by: str, words: str) -> bool:
        try:
            session = Session(self.path, tell=self.tell, first=1)
        except FileError as error:
            self.errors = (error,)
            return False
        self.errors = ()
        self._session = session
        if self.tell is not None:
            self.tell(session.opened_event(by=by, words=words))
        return True
