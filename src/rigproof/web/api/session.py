"""One open project folder. The files are the truth: what is asked for is on the disk before it is answered, what
changes on the disk is taken in before anything is asked of it, and every client sees the same revisions.

A client says at which revision it stood when it asked. What was changed since then by the disk or by another client
is no trouble while it stands at other keys; at the same keys the client is asked which of the two is to stay.
"""

from __future__ import annotations

import contextlib
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rigproof.checks import Bench, Finding, Fix, run_checks
from rigproof.errors import FileError, RigError, RigErrors, Where
from rigproof.files.apply_edits import Kept, take_apart, written
from rigproof.files.atomic import sync_folder, write_whole
from rigproof.files.load import Loaded, find_patch, load_project
from rigproof.files.new_file import write_new
from rigproof.files.text import TEXT_LIMIT_BYTES, encoded_like, place, read_text
from rigproof.model.edits import Edit
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.proof import Readings, read
from rigproof.web.api import journal
from rigproof.web.api.disk import Disk
from rigproof.web.api.facts import changed_keys
from rigproof.web.api.history import History, Step
from rigproof.web.api.problems import Refusal, refused_edit

DISK = "disk"
"""Who made a change that came from outside."""
CHANGES_LIMIT = 500
"""So many changes are remembered; a client that stands further back must read everything again."""
RATE_HZ = 48_000.0

Event = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Change:
    """One step of the revision: who made it, and at which keys something else stands now."""

    revision: int
    by: str
    words: str
    files: tuple[str, ...]
    keys: frozenset[str]


@dataclass(frozen=True, slots=True)
class State:
    """The project at one revision: what loads of it, its net, or all that is wrong with it."""

    revision: int
    loaded: Loaded
    net: Net | None
    errors: tuple[RigError, ...]


@dataclass(frozen=True, slots=True)
class Proved:
    """What is computed of one revision."""

    revision: int
    bench: Bench
    findings: tuple[Finding, ...]

    @property
    def readings(self) -> Readings:
        """All readings."""
        return self.bench.readings


class Session:
    """One open project folder. Every method may be called from any thread."""

    def __init__(
        self, path: Path, *, tell: Callable[[Event], None] | None = None, first: int = 0
    ) -> None:
        """`path` is the project folder, or one patch file in it; `tell` is called with every event. `first` is the
        number of the first revision.

        Raises `RigError` when there is no project at the path.
        """
        folder, patch_path = find_patch(path)
        self.folder = folder.resolve()
        self.target = self.folder if patch_path is None else self.folder / patch_path.name
        self.tell: Callable[[Event], None] = tell or _tell_nobody
        self.history = History()
        self._lock = threading.RLock()
        self._bench_lock = threading.Lock()
        self._proof_lock = threading.Lock()
        """Another one, so that nobody who wants a reading waits for the findings."""
        self._kept: Kept = {}
        """Files taken apart for editing, as the last edit has left them."""
        self._prepared_at = -1
        """The revision at which that was last seen to."""
        self._proved: Proved | None = None
        self._bench: tuple[int, Bench] | None = None
        self._changes: deque[Change] = deque(maxlen=CHANGES_LIMIT)
        journal.finish(self.folder)
        self._disk = Disk(self.folder)
        self._disk.look()
        self._state = self._load(first)
        self._disk.sounds_changed(self._sound_names())

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def state(self) -> State:
        """The project as it stands on the disk now."""
        with self._lock:
            self.refresh()
            return self._state

    @property
    def revision(self) -> int:
        """The number of the last change."""
        return self._state.revision

    def text(self, name: str) -> str:
        """Return one of the project's texts as it stands on the disk.

        Raises `Refusal` when it is none of them.
        """
        with self._lock:
            self.refresh()
            data = self._disk.texts.get(name)
        if data is None:
            raise Refusal(404, "no-such-file", "The project has no such text.")
        return data.decode("utf-8", errors="replace")

    def text_names(self) -> list[str]:
        """Return the names of all texts of the project."""
        with self._lock:
            return sorted(self._disk.texts)

    def bench(self) -> tuple[int, Bench]:
        """Return the revision and its bench, whose readings are made when they are asked for, once a revision.

        Raises `Refusal` while the project has errors.
        """
        with self._bench_lock:
            return self._benched()

    def proved(self) -> Proved:
        """Return all readings and findings, computed once a revision.

        Raises `Refusal` while the project has errors.
        """
        with self._proof_lock:
            revision, bench = self.bench()
            if self._proved is None or self._proved.revision != revision:
                self._proved = Proved(revision, bench, tuple(run_checks(bench)))
            return self._proved

    def _benched(self) -> tuple[int, Bench]:
        state = self.state
        if self._bench is None or self._bench[0] != state.revision:
            project = state.loaded.project
            if project is None or state.net is None or state.errors:
                raise Refusal(
                    409,
                    "has-errors",
                    "The project has errors; mend them first.",
                    errors=state.errors,
                )
            self._bench = state.revision, Bench(project, state.net, read(state.net))
        return self._bench

    # --- what changes it ---------------------------------------------------------------------------------------------

    def prepare(self) -> None:
        """Take the patch apart for the next edit, where the last change has not left it so: it takes a while."""
        with self._lock:
            path = self._state.loaded.patch_path
            if path is not None and self._prepared_at != self.revision:
                self._prepared_at = self.revision
                with contextlib.suppress(RigError):
                    take_apart(self._state.loaded, path, self._kept)

    def refresh(self) -> bool:
        """Take in what has changed on the disk; returns whether anything has."""
        with self._lock:
            changed = self._disk.look()
            if changed:
                before = {name: old for name, (old, _) in changed.items()}
                after = {name: new for name, (_, new) in changed.items()}
                words = f"changed on the disk: {', '.join(changed)}"
                self._advance(Step(words, DISK, before, after), self._load)
                return True
            if self._disk.sounds_changed(self._sound_names()):
                self._advance(Step("sound files changed", DISK, {}, {}), self._load)
                return True
            return False

    def edit(
        self, edits: Sequence[Edit], *, by: str, revision: int, keep_mine: bool = False
    ) -> Change:
        """Make edits, all or none of them, and put them on the disk.

        `revision` is where the client stood. `keep_mine` lets the edits stand over what has changed since.

        Raises `Refusal` when they meet another change at the same keys, or the project cannot take them.
        """
        with self._lock:
            self.refresh()
            self._require_known(revision)
            try:
                texts = written(self._state.loaded, edits, kept=self._kept)
            except RigError as error:
                raise refused_edit([error]) from None
            words = "; ".join(edit.words for edit in edits)
            return self._rewrite(texts, words, by=by, revision=revision, keep_mine=keep_mine)

    def _rewrite(
        self,
        texts: Mapping[Path, tuple[str, str]],
        words: str,
        *,
        by: str,
        revision: int,
        keep_mine: bool,
    ) -> Change:
        """Put texts in the place of others, all or none; `texts` has each file's text before and after."""
        changed = {place(path, self.folder): both for path, both in texts.items()}
        keys = keys_of(
            {n: old for n, (old, _) in changed.items()},
            {n: new for n, (_, new) in changed.items()},
        )
        if not keep_mine:
            self._require_free(keys, by, revision)
        after = self._try({path: new for path, (_, new) in texts.items()})
        if not changed:
            return Change(self.revision, by, words, (), frozenset())
        step = Step(
            words,
            by,
            {name: self._disk.texts.get(name) for name in changed},
            {n: encoded_like(new, self._disk.texts.get(n)) for n, (_, new) in changed.items()},
        )
        self._write(step.before, step.after)
        return self._advance(step, lambda revision: _at(after, revision))

    def apply_fix(
        self, finding: str, at: str, *, by: str, revision: int, seen: str | None = None
    ) -> Change:
        """Do what a finding's own fix says. `seen` is what it said where the client stood.

        Raises `Refusal` when there is no such finding now or it has no fix, when the fix says something else by now,
        and as `edit` does. Where the client is asked, it is told what the fix says now; its yes is the same question
        again, from there.
        """
        fix = self.fix(finding, at)
        try:
            with self._lock:
                if seen is not None and seen != fix.words:
                    raise self._met_by(self._changes_of_others(by, revision))
                return self.edit(fix.edits, by=by, revision=revision)
        except Refusal as refusal:
            if refusal.name == "changed-meanwhile":
                refusal.more["fix"] = fix.words
            raise

    def fix(self, finding: str, at: str) -> Fix:
        """Return what a finding's own fix says.

        Raises `Refusal` when there is no such finding now or it has no fix.
        """
        found = next((f for f in self.proved().findings if (f.check, f.at) == (finding, at)), None)
        if found is None:
            raise Refusal(404, "no-such-fix", "The finding is gone by now: nothing was changed.")
        if found.fix is None:
            raise Refusal(404, "no-such-fix", "The finding has no fix by now: nothing was changed.")
        return found.fix

    def changed_by(self, edits: Sequence[Edit]) -> dict[str, tuple[str, str]]:
        """Return what every file that edits would change says now, and what it would say; nothing is written.

        Raises `Refusal` when the project cannot take them.
        """
        with self._lock:
            try:
                texts = written(self.state.loaded, edits)
            except RigError as error:
                raise refused_edit([error]) from None
        return {place(path, self.folder): both for path, both in texts.items()}

    def add_text(self, name: str, text: str, words: str, *, by: str) -> Change:
        """Write a text that there was not before, a sheet for instance.

        Raises `Refusal` when there is one of this name, or it may not be written.
        """
        with self._lock:
            self.refresh()
            data = text.encode("utf-8")
            try:
                if len(data) > TEXT_LIMIT_BYTES:
                    raise FileError(Where(name), "the file would be too large to load again")
                write_new(self.folder / name, data, self.folder)
            except RigError as error:
                raise refused_edit([error]) from None
            self._disk.wrote(name, data)
            return self._advance(Step(words, by, {name: None}, {name: data}), self._load)

    def change_text(
        self, name: str, text: str, words: str, *, by: str, revision: int, keep_mine: bool = False
    ) -> Change:
        """Put a text in the place of one that is there, a sheet for instance.

        Raises `Refusal` as `edit` does.
        """
        with self._lock:
            self.refresh()
            self._require_known(revision)
            path = self.folder / name
            try:
                old = read_text(path, self.folder)
            except RigError as error:
                raise refused_edit([error]) from None
            texts = {path: (old, text)} if old != text else {}
            return self._rewrite(texts, words, by=by, revision=revision, keep_mine=keep_mine)

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        """Let nobody else change the project meanwhile; what the disk says is taken in first."""
        with self._lock:
            self.refresh()
            yield

    def undo(self, *, by: str, revision: int) -> Change:
        """Take back the last step, whoever made it."""
        return self._travel(by, revision, is_back=True)

    def redo(self, *, by: str, revision: int) -> Change:
        """Do again what was taken back last."""
        return self._travel(by, revision, is_back=False)

    # --- inside ------------------------------------------------------------------------------------------------------

    def _travel(self, by: str, revision: int, *, is_back: bool) -> Change:
        with self._lock:
            self.refresh()
            if revision != self.revision:
                raise self._out_of_date()
            steps = self.history.done if is_back else self.history.undone
            if not steps:
                word = "undo" if is_back else "redo"
                raise Refusal(409, f"nothing-to-{word}", f"There is nothing to {word}.")
            step = steps[-1]
            here, there = (step.after, step.before) if is_back else (step.before, step.after)
            if any(self._disk.texts.get(name) != data for name, data in here.items()):
                raise self._out_of_date()
            self._write(here, there)
            (self.history.went_back if is_back else self.history.went_forth)()
            words = f"{'undo' if is_back else 'redo'}: {step.words}"
            return self._advance(Step(words, by, here, there), self._load, is_travel=True)

    def _load(self, revision: int) -> State:
        return self._state_of(load_project(self.target), revision)

    @staticmethod
    def _state_of(loaded: Loaded, revision: int) -> State:
        errors: list[RigError] = list(loaded.errors)
        net = None
        if loaded.partial is not None:
            try:
                net = flatten(loaded.partial, rate_hz=RATE_HZ)
            except RigErrors as wrong:
                said = {(e.where, e.problem) for e in errors}
                errors += [e for e in wrong.errors if (e.where, e.problem) not in said]
        return State(revision, loaded, net, tuple(errors))

    def _try(self, texts: Mapping[Path, str]) -> State:
        """Return the state that the texts would give; raises `Refusal` when they bring errors that were not there."""
        for path, text in texts.items():
            if len(text.encode("utf-8")) > TEXT_LIMIT_BYTES:
                large = FileError(Where(path.name), "the file would be too large to load again")
                raise refused_edit([large])
        state = self._state_of(load_project(self.target, instead=texts), self.revision + 1)
        room = Counter(map(_sameness, self._state.errors))
        new = []
        for error in state.errors:
            if room[_sameness(error)] > 0:
                room[_sameness(error)] -= 1
            else:
                new.append(error)
        if new:
            raise refused_edit(new)
        return state

    def _write(self, before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]) -> None:
        """Put texts on the disk, all of them or, when one cannot be written, none."""
        changed = self._disk.look()
        if changed:  # somebody wrote while we were thinking; nothing of theirs may be lost
            old = {name: both[0] for name, both in changed.items()}
            new = {name: both[1] for name, both in changed.items()}
            words = f"changed on the disk: {', '.join(changed)}"
            self._advance(Step(words, DISK, old, new), self._load)
            raise self._out_of_date()
        done: list[str] = []
        try:
            with journal.noted(self.folder, before, after):
                for name, data in after.items():
                    self._put(name, data)
                    done.append(name)
        except RigError as error:
            for name in done:
                with contextlib.suppress(RigError):
                    self._put(name, before[name])
            journal.forget(self.folder)
            raise refused_edit([error]) from None

    def _put(self, name: str, data: bytes | None) -> None:
        path = self.folder / name
        if data is None:
            try:
                path.unlink(missing_ok=True)
            except OSError as error:
                raise FileError(Where(name), "the file cannot be removed") from error
            sync_folder(path.parent)
        else:
            write_whole(path, data, self.folder)
        self._disk.wrote(name, data)

    def _advance(
        self, step: Step, state: Callable[[int], State], *, is_travel: bool = False
    ) -> Change:
        change = Change(
            self.revision + 1,
            step.by,
            step.words,
            tuple(step.after),
            keys_of(_texts(step.before), _texts(step.after)),
        )
        if step.after and not is_travel:
            self.history.add(step)
        self._state = state(change.revision)
        self._disk.sounds_changed(self._sound_names())  # from here on, of those that are named now
        self._changes.append(change)
        self.tell(self.event(change))
        return change

    def event(self, change: Change) -> Event:
        """Return what clients are told of a change."""
        return {
            "event": "changed",
            "revision": change.revision,
            "by": change.by,
            "words": change.words,
            "files": list(change.files),
            "errors": len(self._state.errors),
            **self.travel_words(),
        }

    def opened_event(self, *, by: str, words: str) -> Event:
        """Return what clients are told when the project has just been opened."""
        files = tuple(self.text_names())
        return self.event(Change(self.revision, by, words, files, frozenset()))

    def travel_words(self) -> dict[str, str | None]:
        """Return what undo and redo would do now, None where there is nothing."""
        done, undone = self.history.done, self.history.undone
        return {
            "undo": done[-1].words if done else None,
            "redo": undone[-1].words if undone else None,
        }

    def _require_known(self, revision: int) -> None:
        oldest = self._changes[0].revision - 1 if self._changes else self.revision
        if not oldest <= revision <= self.revision:
            raise self._out_of_date()

    def _require_free(self, keys: frozenset[str], by: str, revision: int) -> None:
        """Raise `Refusal` when somebody else has changed one of the keys since the client's revision."""
        met = [one for one in self._changes_of_others(by, revision) if one.keys & keys]
        if met:
            raise self._met_by(met, keys)

    def _changes_of_others(self, by: str, revision: int) -> list[Change]:
        return [one for one in self._changes if one.revision > revision and one.by != by]

    def _met_by(self, theirs: Sequence[Change], keys: frozenset[str] = frozenset()) -> Refusal:
        """Return the question which of two changes is to stay."""
        return Refusal(
            409,
            "changed-meanwhile",
            "This has been changed meanwhile. Which of the two is to stay?",
            more={
                "revision": self.revision,
                "keys": sorted({key for change in theirs for key in change.keys & keys}),
                "theirs": [{"by": c.by, "words": c.words} for c in theirs],
            },
        )

    def _out_of_date(self) -> Refusal:
        return Refusal(
            409,
            "out-of-date",
            "The project has changed; read it again first.",
            more={"revision": self.revision},
        )

    def _sound_names(self) -> list[str]:
        project = self._state.loaded.partial
        if project is None:
            return []
        patches = (project.patch, *(inside.patch for inside in project.insides))
        return [
            str(file)
            for patch in patches
            for filling in patch.samples
            for file in _files(filling.values.get("files"))
        ]


def keys_of(before: Mapping[str, str | None], after: Mapping[str, str | None]) -> frozenset[str]:
    """Return the keys at which texts say something else."""
    return frozenset(
        key for name in after for key in changed_keys(name, before.get(name), after[name])
    )


def _tell_nobody(_event: Event) -> None:
    """Do nothing: nobody listens yet."""


def _at(state: State, revision: int) -> State:
    return State(revision, state.loaded, state.net, state.errors)


def _texts(data: Mapping[str, bytes | None]) -> dict[str, str | None]:
    return {
        name: None if raw is None else raw.decode("utf-8", errors="replace")
        for name, raw in data.items()
    }


def _sameness(error: RigError) -> tuple[str, str, str | None]:
    """What makes two errors the same one although its line has moved."""
    return (error.where.file, error.problem, error.found)


def _files(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else ()
