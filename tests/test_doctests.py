"""The examples in docstrings are true."""

import doctest
import importlib
import pkgutil

import pytest

import rigproof

MODULES = sorted(
    m.name
    for m in pkgutil.walk_packages(rigproof.__path__, "rigproof.")
    if "__main__" not in m.name
)


def test_there_are_examples() -> None:
    finder = doctest.DocTestFinder()
    found = [
        e
        for name in MODULES
        for t in finder.find(importlib.import_module(name))
        for e in t.examples
    ]
    assert len(found) >= 5


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0
