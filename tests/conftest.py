"""Settings for all tests."""

from pathlib import Path

from hypothesis import settings
from hypothesis.database import DirectoryBasedExampleDatabase

ROOT = Path(__file__).resolve().parent.parent

# A plain run tries the same examples every time, so that red means the code changed;
# --hypothesis-profile=wander looks for new ones. Compiling a kernel may take longer than any deadline.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile(
    "wander",
    deadline=None,
    max_examples=1000,
    database=DirectoryBasedExampleDatabase(ROOT / ".cache" / "hypothesis"),
)
settings.load_profile("steady")
