"""A build in full detail in a thread of its own, so that the draft of the next edit need not wait.

Between two layers it can be given up; a layer at full detail takes up to a second. NumPy works
outside the interpreter's lock, so that a draft in the first thread is hardly slower meanwhile.
"""

from collections.abc import Callable
from concurrent.futures import Future
from threading import Event, Thread

from geometry.grid import Detail
from render.page.workers.stage_packer import PackedDesign, StagePacker
from render.request.subject import Subject
from render.timing.kept_times import BuildWatch

__all__ = ["AbandonedError", "FullBuild"]

_MAPS = "maps"
"""Step of `StagePacker.made` that follows the last layer."""


class AbandonedError(Exception):
    """The build was given up."""


class FullBuild:
    """A build that has been started.

    Parameters
    ----------
    packer : StagePacker
        Whose encoder it uses; the result is not put into it.
    name : str
        Of the design.
    subject : Subject
    state : str
        "finished" or "dry".
    progress : callable
        Called before each layer, from the thread of the build.
    """

    def __init__(
        self,
        packer: StagePacker,
        name: str,
        subject: Subject,
        state: str,
        progress: Callable[[], object],
    ) -> None:
        self._what = name, subject, state
        self._abandoned = Event()
        self._future: Future[PackedDesign] = Future()

        def run() -> None:
            try:
                watch = BuildWatch(subject.points(Detail.NORMAL))

                def step(begun: str) -> None:
                    if begun == _MAPS:
                        watch.built()
                    progress()
                    if self._abandoned.is_set():
                        raise AbandonedError

                self._future.set_result(packer.made(subject, state, Detail.NORMAL, step))
            except BaseException as error:
                self._future.set_exception(error)

        Thread(target=run, name="full build", daemon=True).start()

    def is_of(self, name: str, subject: Subject, state: str) -> bool:
        """Tell whether it builds a design in some state, and has not been given up.

        Parameters
        ----------
        name, state : str
        subject : Subject
        """
        return not self._abandoned.is_set() and self._what == (name, subject, state)

    def abandon(self) -> None:
        """Give it up before its next layer."""
        self._abandoned.set()

    @property
    def done(self) -> bool:
        """Whether it has ended, in whatever way."""
        return self._future.done()

    def result(self) -> PackedDesign:
        """What was packed.

        Raises
        ------
        AbandonedError
        DesignProblem, GeometryError
        """
        return self._future.result()
