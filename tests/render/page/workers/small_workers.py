"""Small workers for tests of what becomes of a process: each is run in one of its own."""

import os
import time

from render.page.workers.worker_pipe import Pipe

__all__ = ["answers", "ends", "makes", "sticks", "tells_niceness"]


def answers(pipe: Pipe) -> None:
    """Send back what comes, with the number of the process."""
    while True:
        pipe.send((os.getpid(), pipe.recv()))


def tells_niceness(pipe: Pipe) -> None:
    """Answer everything with the process's own niceness."""
    while True:
        pipe.recv()
        pipe.send(os.nice(0))


def ends(pipe: Pipe) -> None:
    """End at the first message."""
    pipe.recv()


def sticks(pipe: Pipe) -> None:
    """Never come back to the pipe, but live."""
    pipe.recv()
    while True:
        time.sleep(0.1)


def makes(pipe: Pipe) -> None:
    """Make files of a few letters; one titled "stuck" is begun and never ends."""
    from render.page.workers.export_worker import ExportJob, JobEnded, JobProgress

    while True:
        job = pipe.recv()
        if not isinstance(job, ExportJob):
            continue
        pipe.send(JobProgress(job.number, 0.5, f"process {os.getpid()}"))
        if job.subjects[0].design.title == "stuck":
            job.path.with_name(f".{job.number}.part").write_bytes(b"half")
            while True:
                pipe.poll(0.1)
        job.path.write_bytes(b"whole")
        pipe.send(JobEnded(job.number))
