"""Problems told in one sentence on standard error, and the exit code that goes with each."""

import sys
from collections.abc import Callable

from render.common.problems import REFUSALS, DrawingProblem, NearestOnly
from scenes.files.atomic import forget_finished, remove_unfinished, stopped_message
from scenes.problems import printable

__all__ = ["FAILED", "NEAREST", "REFUSED", "STOPPED", "run_told", "tell"]

FAILED, REFUSED, NEAREST, STOPPED = 1, 2, 3, 130
"""Exit codes: this machine could not, it cannot be done as asked, the nearest to it was done,
Ctrl-C (128 + SIGINT)."""


def run_told(work: Callable[[], object]) -> int:
    """Do some work and give the exit code; problems that are put in words become a sentence."""
    forget_finished()
    try:
        work()
    except REFUSALS as problem:
        tell(str(problem))
        return REFUSED
    except DrawingProblem as problem:
        tell(str(problem))
        return FAILED
    except NearestOnly as outcome:
        tell(str(outcome))
        return NEAREST
    except OSError as error:
        place = f'"{printable(str(error.filename), 300)}": ' if error.filename else ""
        tell(f"{place}{error.strerror or error}")
        return FAILED
    except MemoryError:
        tell("There is not enough memory for this; ask for less detail or a smaller size")
        return FAILED
    except KeyboardInterrupt:
        remove_unfinished()
        tell(stopped_message())
        return STOPPED
    return 0


def tell(sentence: str) -> None:
    """Write one sentence on standard error, on one line and with its full stop."""
    line = " ".join(sentence.split())
    end = "" if line.endswith((".", "?", "!")) else "."
    sys.stderr.write(f"{line}{end}\n")
