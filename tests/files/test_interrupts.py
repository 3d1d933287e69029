"""Ctrl-C while kernels load: never lost, never in the middle of the compiler."""

import signal
import threading

import pytest

from rigproof.files.interrupts import held_back


def test_ctrl_c_waits_until_it_is_heeded() -> None:
    reached = []
    with pytest.raises(KeyboardInterrupt), held_back() as heed:  # noqa: PT012
        signal.raise_signal(signal.SIGINT)
        reached.append("still here")
        heed()
        reached.append("never here")
    assert reached == ["still here"]


def test_ctrl_c_at_the_last_moment_is_not_lost() -> None:
    with pytest.raises(KeyboardInterrupt), held_back():
        signal.raise_signal(signal.SIGINT)


def test_without_ctrl_c_nothing_happens_and_handlers_are_as_before() -> None:
    before = [signal.getsignal(s) for s in (signal.SIGINT, signal.SIGTERM)]
    with held_back() as heed:
        heed()
    assert [signal.getsignal(s) for s in (signal.SIGINT, signal.SIGTERM)] == before


def test_an_error_inside_is_not_hidden() -> None:
    with pytest.raises(ZeroDivisionError), held_back():
        raise ZeroDivisionError


def test_an_error_inside_does_not_hide_ctrl_c() -> None:
    with pytest.raises(KeyboardInterrupt), held_back():  # noqa: PT012
        signal.raise_signal(signal.SIGINT)
        raise ZeroDivisionError


def test_in_another_thread_there_is_nothing_to_hold() -> None:
    done = []

    def work() -> None:
        with held_back() as heed:
            heed()
            done.append(True)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == [True]
