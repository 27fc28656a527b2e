"""Costs of earlier runs on this machine: one line of JSON for each, in the user's state folder.

A cost is compared with the median of the latest runs. Runs that shared the processor with much
other work are compared only where there are no others.
"""

import json
import os
import platform
import re
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from render.measure.costs.figures import Cost
from scenes.cache.whole_files import write_whole
from scenes.files.state_folder import state_folder

__all__ = ["Change", "Run", "changes", "history_file", "kept", "read"]

_KEPT = 200
"""Most runs in the file."""

_COMPARED = 5
"""Latest runs whose median a new one is compared with."""

_QUIET = 0.25
"""Share of the processor taken by other work up to which a run counts as quiet."""

_WORSE = {"CPU s": 0.15, "MB": 0.05, "x": 0.2}
"""By how much more a cost is a regression; repeated quiet runs differ by a half of it or less."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the bench.

    Parameters
    ----------
    when : str
        ISO date and time, UTC.
    others : float
        Share of the processor that other work took meanwhile, 0 to 1.
    ratios : dict of str to float
        `Cost.ratio` by `Cost.key`.
    """

    when: str
    others: float
    ratios: dict[str, float]

    @property
    def quiet(self) -> bool:
        """Whether it had the machine nearly for itself."""
        return self.others <= _QUIET


@dataclass(frozen=True, slots=True)
class Change:
    """How a cost has changed.

    Parameters
    ----------
    share : float
        Above 0 where it costs more than before (or yields less).
    runs : int
        How many earlier runs it is compared with.
    worse : bool
        Whether the change is larger than runs differ by themselves.
    """

    share: float
    runs: int
    worse: bool


def history_file() -> Path:
    """Find the file of this machine's runs, named by its processor and number of cores."""
    name = f"{_processor()} {os.cpu_count()} cores"
    return state_folder() / "bench" / f"{re.sub(r'[^a-z0-9]+', '-', name.lower())}.jsonl"


def _processor() -> str:
    try:
        described = Path("/proc/cpuinfo").read_text("utf-8", "replace")
    except OSError:
        described = ""
    found = re.search(r"^model name\s*:\s*(.+)$", described, re.MULTILINE)
    return found[1] if found else platform.processor() or platform.machine()


def read(file: Path) -> list[Run]:
    """Read the runs of a file, the oldest first; lines that are no runs are left out.

    Parameters
    ----------
    file : Path
        May be missing.
    """
    try:
        lines = file.read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
    runs = []
    for line in lines:
        try:
            made = json.loads(line)
            ratios = {str(key): float(ratio) for key, ratio in made["ratios"].items()}
            runs.append(Run(str(made["when"]), float(made["others"]), ratios))
        except (ValueError, TypeError, KeyError, AttributeError):
            continue
    return runs


def kept(file: Path, runs: Sequence[Run]) -> None:
    """Write the latest runs to a file.

    Parameters
    ----------
    file : Path
    runs : sequence of Run
        The oldest first.

    Raises
    ------
    OSError
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    lines = (
        json.dumps({"when": run.when, "others": run.others, "ratios": run.ratios})
        for run in runs[-_KEPT:]
    )
    write_whole(file, "".join(f"{line}\n" for line in lines).encode())


def changes(costs: Iterable[Cost], before: Sequence[Run]) -> dict[str, Change]:
    """Compare costs with earlier runs.

    Parameters
    ----------
    costs : iterable of Cost
    before : sequence of Run
        The oldest first.

    Returns
    -------
    dict of str to Change
        By `Cost.key`; without those that no earlier run has.
    """
    found = {}
    for cost in costs:
        known = [run for run in before if run.ratios.get(cost.key, 0) > 0]
        known = ([run for run in known if run.quiet] or known)[-_COMPARED:]
        if not known:
            continue
        usual = statistics.median(run.ratios[cost.key] for run in known)
        share = (usual / cost.ratio if cost.more_is_better else cost.ratio / usual) - 1
        found[cost.key] = Change(share, len(known), share > _WORSE[cost.unit])
    return found
