"""Sound: the net put in order, its kernels compiled, and rendered block by block. Only this room knows Numba."""
