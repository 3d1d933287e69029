"""An edit is on the disk, and read anew, while a hand still moves: on a rig of 60 modules, in the core's own time."""

import pytest

from benchmarks.bench_session import main


@pytest.mark.slow
def test_an_edit_of_a_large_rig_is_quick() -> None:
    """Wanted: an edit within 100 ms, readings and findings of the new patch within 300 ms, an end within 30 ms."""
    found = main()
    assert found["modules"] >= 60
    assert found["an edit, on the disk (ms)"] < 100
    assert found["readings (ms)"] < 300
    assert found["findings (ms)"] < 300
    assert found["diagram (ms)"] < 300
    assert found["ends of a cable (ms)"] < 30
