"""The command line's frame: which commands there are, and what becomes of what they raise.

Exit codes: 0 all is well, 1 a finding that would stop the show, 2 bad input, 130 stopped by the performer, 141 the
reader of our output went away, 129 and 143 the terminal was closed or the system asked us to end.
"""

from __future__ import annotations

import codecs
import errno
import os
import signal
import sys
from collections.abc import Sequence
from types import FrameType
from typing import NoReturn

from cyclopts import App, CycloptsError, UnknownCommandError

from rigproof import __version__
from rigproof.cli.screen import BAD_INPUT, FINE, STOPPED, UNREAD, errors_console, plain_sign
from rigproof.errors import RigError, RigErrors

PROLOGUE = "Prove your rig before you plug it in."
COMMANDS: tuple[tuple[str, str, str], ...] = (
    # name, module under rigproof.cli.commands, what it does
    ("new", "new", "Begin a project: a folder with a rig, a patch and a set to fill in."),
    ("new-sheet", "new_sheet", "Describe your own module: asks what its manual tells."),
    ("check", "check", "Prove a patch: what the hardware will do, and what would go wrong."),
    ("explain", "explain", "Say what a finding means, why it matters and how to mend it."),
    ("volts", "volts", "Show the volts at every jack: what is possible and what is usual."),
    ("trace", "trace", "Follow a fader, a jack or a section to all it ends in, hop by hop."),
    ("tour", "tour", "Walk through the patch in plain language, for a talk or a handout."),
    ("render", "render", "Render the set, or part of it, to a sound file."),
    ("kinds", "kinds", "List the section kinds that module sheets are built from."),
    (
        "lint-sheet",
        "lint_sheet",
        "Look a module sheet over: what is missing, what cannot be meant.",
    ),
    ("schema", "schema", "Print the JSON Schema of a project file."),
    ("open", "open_app", "Open the app in the browser: look, wire, hear and prove by hand."),
    ("demo", "demo", "Show it all on an invented rig: proof, sound, and what to try next."),
)


def make_app() -> App:
    """Return the command line, each command imported only when it is called."""
    app = App(
        name="rigproof",
        help=PROLOGUE,
        version=f"rigproof {__version__}",
        help_format="plaintext",
        help_formatter="plain",
        suppress_keyboard_interrupt=False,
        result_action="return_value",
    )
    for place, (name, module, about) in enumerate(COMMANDS):
        app.command(
            f"rigproof.cli.commands.{module}:{module}", name=name, help=about, sort_key=place
        )
    return app


def run(words: Sequence[str]) -> int:
    """Run one command line and return its exit code."""
    is_json = "--json" in words
    try:
        code = make_app()(list(words), exit_on_error=False, print_error=False)
        sys.stdout.flush()
    except UnknownCommandError as error:
        from rigproof.cli.problems import report_errors, unknown

        names = [name for name, _, _ in COMMANDS]
        return report_errors(
            [unknown("command", (error.unused_tokens or [""])[0], names)], is_json=is_json
        )
    except CycloptsError as error:
        from rigproof.cli.problems import report_usage

        return report_usage(error, is_json=is_json)
    except RigErrors as errors:
        from rigproof.cli.problems import report_errors

        return report_errors(errors.errors, is_json=is_json)
    except RigError as error:
        from rigproof.cli.problems import report_errors

        return report_errors([error], is_json=is_json)
    except KeyboardInterrupt:
        errors_console().print("stopped; nothing half-written was left", highlight=False)
        return STOPPED
    return code if isinstance(code, int) else FINE


NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO})
"""Why output that is sent to a file cannot be written."""


def end(number: int, _frame: FrameType | None) -> NoReturn:
    """End because the system asks for it, by way of every `with`, so that nothing half-written is left."""
    raise SystemExit(128 + number)


def prepare_process() -> None:
    """Make the process fit for any way in which it may be started and ended."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed by whoever started us
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123
    if (
        os.environ.get("COLUMNS", "").strip() == "0"
    ):  # said by what is no terminal; help would be empty
        del os.environ["COLUMNS"]
    codecs.register_error("plain-sign", plain_sign)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="plain-sign")
    for signal_name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, signal_name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, end)


def main(words: Sequence[str] | None = None) -> None:
    """Run the command line of this process and leave with its exit code."""
    prepare_process()
    try:
        code = run(sys.argv[1:] if words is None else words)
        sys.stdout.flush()
    except BrokenPipeError:
        _say_no_more()
        code = UNREAD
    except SystemExit as ended:
        # What prints for people ends by itself, with the code of a finding that would stop the show.
        if not isinstance(ended.__context__, BrokenPipeError):
            raise
        _say_no_more()
        code = UNREAD
    except OSError as error:
        # Files that we open are told by name; what has none is our output.
        if error.filename is not None or error.errno not in NO_ROOM:
            raise
        _say_no_more()
        print(f"the output cannot be written\n         found  {error.strerror}", file=sys.stderr)
        code = BAD_INPUT
    sys.exit(code)


def _say_no_more() -> None:
    """Let nothing more be said when Python closes its streams."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
