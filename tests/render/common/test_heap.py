"""Freed memory goes back to the system: read from what the system says of this process."""

import sys
from pathlib import Path

import pytest

from render.common.heap import give_back_freed_memory

BLOCK, COUNT = 100_000, 2_000


def resident_mb() -> float:
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_freed_memory_between_blocks_in_use_is_given_back() -> None:
    blocks = [bytes(BLOCK) for _ in range(COUNT)]
    for block in blocks:  # touched, so that the system has to give it
        assert block[0] == 0
    kept = blocks[-1]
    filled = [bytearray(BLOCK) for _ in range(COUNT)]
    for one in filled:
        one[::4096] = b"x" * len(one[::4096])
    last = filled[-1]
    del filled, blocks, block, one
    before = resident_mb()
    if not give_back_freed_memory():
        pytest.skip("this C library has no such function")
    assert resident_mb() < before - 100
    assert kept[0] == 0
    assert last[0] == ord("x")
