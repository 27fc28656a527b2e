"""Errors reported as one sentence on standard error, and the exit code of each."""

import re
import sys
from collections.abc import Callable

from render.common.problems import REFUSALS, DrawingProblem, NearestOnly
from scenes.files.atomic import forget_finished, remove_unfinished, stopped_message
from scenes.problems import DesignProblem, NotWritten, printable

__all__ = ["FAILED", "NEAREST", "REFUSED", "STOPPED", "print_message", "run_reporting_errors"]

FAILED, REFUSED, NEAREST, STOPPED = 1, 2, 3, 130
"""Exit codes: this machine failed; the request was refused; only the nearest design was found;
Ctrl-C (128 + SIGINT)."""


_MAYBE_FIELD = re.compile(r"\w[._]\w")


def run_reporting_errors(work: Callable[[], object]) -> int:
    """Run `work`, print the message of a known error, and return the exit code.

    Parameters
    ----------
    work : callable
        What to run; its result is ignored.
    """
    forget_finished()
    try:
        work()
    except (DrawingProblem, NotWritten) as problem:
        print_message(str(problem))
        return FAILED
    except REFUSALS as problem:
        print_message(str(problem))
        for other in problem.others if isinstance(problem, DesignProblem) else ():
            print_message(other)
        return REFUSED
    except NearestOnly as outcome:
        print_message(str(outcome))
        return NEAREST
    except OSError as error:
        place = f'"{printable(str(error.filename), 300)}": ' if error.filename else ""
        print_message(f"{place}{error.strerror or error}")
        return FAILED
    except MemoryError:
        print_message("There is not enough memory for this; ask for less detail or a smaller size")
        return FAILED
    except KeyboardInterrupt:
        remove_unfinished()
        print_message(stopped_message())
        return STOPPED
    return 0


def print_message(sentence: str) -> None:
    """Print one sentence on standard error, on one line, with its fields in words and a full stop.

    Parameters
    ----------
    sentence : str
        Line breaks become spaces; a full stop is added if none ends it.
    """
    line = " ".join(part.strip() for part in sentence.splitlines())
    if _MAYBE_FIELD.search(line):
        # Names of fields are known by the design's model, which loads slowly.
        from scenes.design.field_words import in_words_with_paths

        line = in_words_with_paths(line)
    end = "" if line.endswith((".", "?", "!")) else "."
    sys.stderr.write(f"{line}{end}\n")
