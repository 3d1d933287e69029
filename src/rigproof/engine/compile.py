"""Kernels compiled to machine code with one signature, kept on disk, and called by address from one loop.

A kernel in `rigproof.kinds` is a plain function. Here it is compiled once for the one signature that all kernels
share, with the plain helpers it names, and cached on disk under a folder whose name holds a hash of every kind's
source: a changed kernel or helper can never meet a stale compilation. A patch never needs compiling: the loop in
`loop.py` calls kernels through their addresses.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Iterable
from functools import cache
from typing import Any

from rigproof.engine.kernel_cache import use_kernel_cache
from rigproof.kinds.interpolation import weighed_sum

CACHE_FOLDER = use_kernel_cache()

import numba  # noqa: E402  (the compiler reads its folder when it is imported)
from numba import types as nt  # noqa: E402

# Also when somebody has imported the compiler before us.
numba.config.CACHE_DIR = CACHE_FOLDER  # type: ignore[attr-defined]

BUS = nt.Array(nt.float64, 2, "C")
INDEX = nt.Array(nt.int64, 1, "C")
PARAMS = nt.Array(nt.float64, 2, "C")
STATE = nt.Array(nt.float64, 1, "C")
SIGNATURE = nt.void(BUS, INDEX, INDEX, PARAMS, STATE, nt.int64, nt.int64)

FLAGS: dict[str, Any] = {
    "error_model": "numpy",
    # Multiply-add may be fused and a divisor inverted; sums keep their order and NaN keeps its meaning.
    "fastmath": {"contract", "nsz", "arcp"},
    # A kernel allocates nothing, so nobody needs to count who uses an array or a slice of it.
    "_nrt": False,
}
ANY_ORDER = frozenset((weighed_sum,))
"""Helpers of a single sum, which may be taken in any order: vector code takes it in half the time, and no two orders
differ by more than rounding."""


@cache
def _helper(function: types.FunctionType) -> Any:
    """Return a helper of the kinds' package, ready to be called from a kernel."""
    flags = dict(FLAGS)
    if function in ANY_ORDER:
        flags["fastmath"] = FLAGS["fastmath"] | {"reassoc"}
    return numba.njit(**flags)(_with_helpers(function))


def _with_helpers(function: types.FunctionType) -> types.FunctionType:
    """Return the function with every plain function of ours that it names replaced by a compiled twin."""
    named: dict[str, Any] = {}
    for name in _all_names(function.__code__):
        value = function.__globals__.get(name)
        if isinstance(value, types.FunctionType) and value.__module__.startswith("rigproof."):
            named[name] = _helper(value)
    if not named:
        return function
    twin = types.FunctionType(
        function.__code__,
        {**function.__globals__, **named},
        function.__name__,
        function.__defaults__,
    )
    twin.__qualname__ = function.__qualname__
    twin.__module__ = function.__module__
    twin.__kwdefaults__ = function.__kwdefaults__
    return twin


def _all_names(code: types.CodeType) -> set[str]:
    names = set(code.co_names)
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            names |= _all_names(constant)
    return names


@cache
def compiled(kernel: Any) -> Any:
    """Return the compiled twin of a kernel, from the disk cache when it is there."""
    function: types.FunctionType = kernel
    return numba.njit(SIGNATURE, cache=True, **FLAGS)(_with_helpers(function))


@cache
def address(kernel: Any) -> int:
    """Return the address of the kernel's machine code, callable with the arrays of `SIGNATURE`."""
    result = compiled(kernel).overloads[SIGNATURE.args]
    return int(result.library.get_pointer_to_function(result.fndesc.llvm_cfunc_wrapper_name))


def prepare_kernels(
    kernels: Iterable[Callable[..., None]], on_progress: Callable[[int, int], None] | None = None
) -> None:
    """Compile or load every kernel, telling `on_progress(done, total)` after each."""
    wanted = list(dict.fromkeys(kernels))
    for done, kernel in enumerate(wanted, start=1):
        address(kernel)
        if on_progress is not None:
            on_progress(done, len(wanted))
