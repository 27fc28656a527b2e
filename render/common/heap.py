"""Return of freed memory to the system.

The C library keeps freed memory that lies between blocks in use. A process that builds wraps of
changing sizes for an hour would hold some hundred megabytes of unused memory.
"""

import ctypes
import sys

__all__ = ["give_back_freed_memory"]


def give_back_freed_memory() -> bool:
    """Return freed memory to the system by glibc's ``malloc_trim``, where there is one.

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
