"""Workers of this machine share out its graphics processors: each worker uses one of them."""

import os
from collections.abc import Sequence

from distributed import Worker, WorkerPlugin

from render.pathtraced.engines import GPU_VARIABLE

__all__ = ["GpuShare"]


class GpuShare(WorkerPlugin):  # type: ignore[misc]  # Dask has no types
    """Gives each worker one graphics processor, in turn by the worker's number.

    A process starts CUDA with its first photograph, and a plugin is set up before the first task,
    in a worker that replaces one that died too.

    Parameters
    ----------
    devices : sequence of str
        Names of the graphics processors, one or more.
    """

    name = "share of the graphics processors"

    def __init__(self, devices: Sequence[str]) -> None:
        self._devices = tuple(devices)

    def setup(self, worker: Worker) -> None:
        """Choose the graphics processor of a worker.

        Parameters
        ----------
        worker : Worker
            One of this machine, whose name is its number.
        """
        os.environ[GPU_VARIABLE] = self._devices[int(worker.name) % len(self._devices)]
