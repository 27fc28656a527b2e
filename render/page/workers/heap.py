"""Freed memory given back to the system.

The C library keeps freed memory that lies between blocks in use. A process that lays wraps of
changing sizes for an hour so holds some hundred megabytes that nothing uses.
"""

import ctypes
import sys

__all__ = ["give_back_freed_memory"]


def give_back_freed_memory() -> bool:
    """Give freed memory back to the system where the C library can: glibc's ``malloc_trim``.

    Returns
    -------
    bool
        Whether the C library has such a function.
    """
    if not sys.platform.startswith("linux"):
        return False
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is None:
        return False
    trim(ctypes.c_size_t(0))
    return True
