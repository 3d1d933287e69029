"""The gates: all run, one failure does not stop the rest, and the exit code tells."""

import sys

import pytest

from setup import check


def gate(name: str, code: str, *, always: bool = True) -> check.Gate:
    return check.Gate(
        name, "for this test", lambda rest: [sys.executable, "-c", code, *rest], always
    )


@pytest.fixture
def gates(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = (
        gate("bad", "raise SystemExit(5)"),
        gate("good", "import sys; print('saw', sys.argv[1:])"),
        gate("rare", "raise SystemExit(1)", always=False),
    )
    monkeypatch.setattr(check, "GATES", rows)


@pytest.mark.usefixtures("gates")
def test_all_gates_run_though_one_fails(capfd: pytest.CaptureFixture[str]) -> None:
    assert check.main([]) == 1
    said = capfd.readouterr().out
    assert "saw []" in said
    assert "FAIL  bad" in said
    assert "ok    good" in said
    assert "rare" not in said
    assert said.endswith("check: failed: bad\n")


@pytest.mark.usefixtures("gates")
def test_one_gate_takes_the_rest_of_the_line(capfd: pytest.CaptureFixture[str]) -> None:
    assert check.main(["good", "-k", "net", "--fix"]) == 0
    assert "saw ['-k', 'net', '--fix']" in capfd.readouterr().out


@pytest.mark.usefixtures("gates")
def test_unknown_gate_is_refused() -> None:
    with pytest.raises(SystemExit) as caught:
        check.main(["god"])
    assert caught.value.code == 2
