"""Workers of a catalogue: Dask, on this machine or on machines that run already.

On this machine the scheduler and its workers listen on the loopback address alone, encrypted, with
a key that is made for this run, so that no other user of the machine can give them work. There is
no dashboard. A scheduler elsewhere is named by the builder, who vouches for it: who can reach a
Dask scheduler can run code on its workers. A worker that dies is replaced, and what it had in hand
is done again by another.
"""

import logging
import os
import queue
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urlsplit

from render.catalogue.work import run_task
from render.common.problems import RequestProblem
from scenes.problems import printable, shown

if TYPE_CHECKING:
    from distributed import Client, Future, Security

__all__ = ["Certificates", "DaskWorkers", "Work", "Workers", "dask_workers"]

_MISSING = (
    "catalogue: the work is shared out by Dask, which is not installed; install it with pip "
    'install "turnlight[cluster]", or in the project folder pip install ".[cluster]".'
)

_CONNECTING = 10.0
"""Seconds to wait for a scheduler, and for its first worker."""

_PATIENCE = 300.0
"""Seconds without any worker after which the rest is given up."""

_LOOK = 2.0
"""Seconds between two looks at whether there are workers."""

_IN_HAND = 2
"""Tasks that are with the scheduler, for each thread of its workers: enough to keep all busy, and
few enough that ten thousand designs are never in its memory at once."""

_LARGE = "1 GiB"
"""Size of a task up to which Dask does not warn."""

_BLAS_THREADS = "OPENBLAS_NUM_THREADS"
_WARNINGS = "PYTHONWARNINGS"


@dataclass(frozen=True, slots=True)
class Certificates:
    """Files for TLS with a scheduler, in PEM.

    Parameters
    ----------
    authority : Path
        Certificate of the authority that signed both sides.
    certificate, key : Path
        Those of this machine.
    """

    authority: Path
    certificate: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Work:
    """A task that is given to workers.

    Parameters
    ----------
    number : int
        By which the result is known.
    load : callable
        Makes the task's plain data when its turn has come.
    """

    number: int
    load: Callable[[], dict[str, Any]]


class Workers(Protocol):
    """Something that does tasks."""

    @property
    def count(self) -> int:
        """Tasks that it does at the same time."""

    def results(self, works: Iterable[Work]) -> Iterator[tuple[int, dict[str, Any]]]:
        """Do tasks, and yield number and result of each as it is done.

        Parameters
        ----------
        works : iterable of Work
            Read as workers become free; may grow while it is read.
        """


class DaskWorkers:
    """Workers of a Dask scheduler.

    Parameters
    ----------
    client : Client
    """

    def __init__(self, client: "Client") -> None:
        self._client = client
        self._ended: queue.SimpleQueue[tuple[int, Future]] = queue.SimpleQueue()

    @property
    def count(self) -> int:
        """Threads of the workers that are there now, each of which does one task."""
        return max(1, sum(self._client.nthreads().values()))

    def results(self, works: Iterable[Work]) -> Iterator[tuple[int, dict[str, Any]]]:
        """Do tasks, and yield number and result of each as it is done.

        A task that ends its worker again and again, or an unexpected error, gives a result with a
        problem, as `run_task` does.

        Parameters
        ----------
        works : iterable of Work
        """
        waiting = iter(works)
        running: dict[int, Future] = {}
        alone = 0.0
        while True:
            while len(running) < self._room():
                work = next(waiting, None)
                if work is None:
                    break
                try:
                    plain = work.load()
                except OSError as error:
                    yield work.number, _problem(f"its parts cannot be read ({error.strerror})")
                    continue
                future = self._client.submit(run_task, plain, pure=False)
                running[work.number] = future
                future.add_done_callback(self._noting(work.number))
            if not running:
                return
            try:
                number, future = self._ended.get(timeout=_LOOK)
            except queue.Empty:
                alone = 0.0 if self._threads() else alone + _LOOK
                if alone > _PATIENCE or self._client.status != "running":
                    for number in running:
                        yield number, _problem("the scheduler and its workers cannot be reached")
                    running.clear()
                    for work in waiting:
                        yield work.number, _problem("there was no worker left for it")
                    return
                continue
            alone = 0.0
            del running[number]
            yield number, _result_of(future)
            future.release()

    def _noting(self, number: int) -> "Callable[[Future], None]":
        return lambda future: self._ended.put((number, future))

    def _threads(self) -> int:
        workers = self._client.scheduler_info(n_workers=-1)["workers"].values()
        return sum(worker["nthreads"] for worker in workers)

    def _room(self) -> int:
        return max(1, _IN_HAND * self._threads())


def _result_of(future: "Future") -> dict[str, Any]:
    if future.status == "finished":
        result: dict[str, Any] = future.result()
        return result
    error = future.exception() if future.status == "error" else None
    if type(error).__name__ == "KilledWorker":
        return _problem("every worker that took it up ended, perhaps for want of memory")
    if error is not None and "deserialization" in str(error):
        return _problem("it cannot load Turnlight; install the same version where it runs")
    reason = "it was lost" if error is None else f"{type(error).__name__}: {error}"
    return _problem(" ".join(reason.split()))


def _problem(reason: str) -> dict[str, Any]:
    return {"results": {}, "notes": [], "problem": f"worker: {printable(reason, 500)}."}


@contextmanager
def dask_workers(
    scheduler: str | None = None,
    *,
    count: int | None = None,
    certificates: Certificates | None = None,
    scratch: Path | None = None,
    gpus: Sequence[str] = (),
) -> Iterator[DaskWorkers]:
    """Open workers for the block.

    Parameters
    ----------
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tls://10.0.0.5:8786``; by default one is started on
        this machine.
    count : int, optional
        Workers on this machine; by default one for each processor.
    certificates : Certificates, optional
        For TLS with the scheduler; by default those of Dask's own configuration.
    scratch : Path, optional
        Folder for temporary files of workers on this machine.
    gpus : sequence of str
        Graphics processors of this machine, from `cuda_devices`: each worker on it uses one.

    Raises
    ------
    RequestProblem
        If Dask is not installed, the address is none of a scheduler, or the scheduler or any worker
        of it cannot be reached in time.
    """
    if scheduler is not None:
        _check_address(scheduler)
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError:
        raise RequestProblem(_MISSING) from None
    with ExitStack() as stack:
        stack.enter_context(dask.config.set(_CONFIGURATION))
        if scheduler is None:
            _start_quiet_tracker()
            cluster = stack.enter_context(LocalCluster(**_local(count, scratch)))
            client = stack.enter_context(Client(cluster, set_as_default=False))
            if gpus:
                from render.catalogue.gpu_share import GpuShare

                client.register_plugin(GpuShare(gpus))
        else:
            client = stack.enter_context(_connected(Client, scheduler, certificates))
        try:
            client.wait_for_workers(1, timeout=_CONNECTING)
        except TimeoutError:
            raise RequestProblem(
                f"scheduler: {shown(scheduler or 'of this machine')} has no workers; start some, "
                "such as dask worker with its address."
            ) from None
        yield DaskWorkers(client)


_CONFIGURATION = {
    "distributed.admin.large-graph-warning-threshold": _LARGE,
    # One task for each thread: where a worker dies, nothing but what it worked on is suspected.
    "distributed.scheduler.worker-saturation": 1.0,
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
    "distributed.worker.profile.enabled": False,
}


def _start_quiet_tracker() -> None:
    """Start the process that frees what this one leaves behind, without its warning.

    After Ctrl-C the program ends before the cluster is closed, and the tracker would say so.
    """
    if os.name == "nt":
        return
    from multiprocessing import resource_tracker

    before = os.environ.get(_WARNINGS)
    os.environ[_WARNINGS] = "ignore:resource_tracker"
    try:
        resource_tracker.ensure_running()
    finally:
        if before is None:
            del os.environ[_WARNINGS]
        else:
            os.environ[_WARNINGS] = before


def _local(count: int | None, scratch: Path | None) -> dict[str, Any]:
    """Arguments of a cluster on this machine that listens on the loopback address alone."""
    from distributed import Security

    cores = os.cpu_count() or 1
    count = cores if count is None else count
    folder = {} if scratch is None else {"local_directory": str(scratch)}
    temporary = {} if scratch is None else dict.fromkeys(("TMPDIR", "TMP", "TEMP"), str(scratch))
    return {
        "n_workers": count,
        "threads_per_worker": 1,
        "processes": True,
        "host": "127.0.0.1",
        "security": Security.temporary(),
        "dashboard_address": "127.0.0.1:0",
        "scheduler_kwargs": {"dashboard": False},
        "worker_dashboard_address": None,
        "memory_limit": 0,
        "silence_logs": logging.CRITICAL,
        "env": {_BLAS_THREADS: "1", **temporary},
        **folder,
    }


def _check_address(scheduler: str) -> None:
    """Refuse what is no address of a scheduler, before it is waited for."""
    try:
        address = urlsplit(scheduler)
        known = address.scheme in ("tcp", "tls") and address.hostname and address.port
    except ValueError:  # a port that is no number
        known = False
    if not known:
        raise RequestProblem(
            f"scheduler: {shown(scheduler)} is not the address of a Dask scheduler; give the one "
            "that dask scheduler prints, such as tcp://10.0.0.5:8786 or tls://10.0.0.5:8786."
        )


def _connected(
    client: "type[Client]", scheduler: str, certificates: Certificates | None
) -> "Client":
    security = _security(certificates)
    if scheduler.startswith("tls://") and not security.get_connection_args("client")["ssl_context"]:
        raise RequestProblem(
            f"scheduler: {shown(scheduler)} is reached with certificates; give --tls-ca, "
            "--tls-cert and --tls-key."
        )
    try:
        return client(
            scheduler,
            timeout=_CONNECTING,
            security=security,
            set_as_default=False,
        )
    except (OSError, TimeoutError, ValueError, RuntimeError) as error:
        reason = " ".join(str(error).split())
        raise RequestProblem(
            f"scheduler: {shown(scheduler)} cannot be reached ({printable(reason, 200)}); give the "
            "address that dask scheduler prints, such as tcp://10.0.0.5:8786."
        ) from None


def _security(certificates: Certificates | None) -> "Security":
    """The certificates, or those of Dask's own configuration."""
    from distributed import Security

    if certificates is None:
        return Security()
    return Security(
        tls_ca_file=str(certificates.authority),
        tls_client_cert=str(certificates.certificate),
        tls_client_key=str(certificates.key),
        require_encryption=True,
    )
