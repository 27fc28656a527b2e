"""Set Turnlight up in ``.venv`` beside this file, and run it.

``python3 start.py`` shows a first wrap; ``test``, ``bench``, ``gallery`` and ``soak`` after it run
the tests, the speed measurements, the gallery of pictures and the page for some minutes, to see
whether it grows. Needs the standard library only. A
second run finds everything in place and starts at once.
"""

import ctypes
import hashlib
import importlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
import venv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import Enum
from pathlib import Path

# Older Pythons read this file too, so that they can say this: nothing above or in the grammar
# below may be newer than Python 3.8.
if sys.version_info < (3, 11):  # noqa: UP036
    sys.exit(
        f"Turnlight needs Python 3.11 or newer and this is {sys.version.split()[0]}: "
        "install a newer one and run start.py with it."
    )

__all__ = [
    "COMMANDS",
    "Command",
    "Stamp",
    "Stop",
    "Work",
    "choose",
    "main",
    "missing_packages",
    "prepare",
    "run_steps",
    "venv_python",
    "wanted_stamp",
    "work_needed",
]

ROOT = Path(__file__).resolve().parent
VENV = ".venv"
STAMP = "turnlight-setup.json"
LOG = "turnlight-setup.log"
LOG_LINES_SHOWN = 15

# Debian's package for each library that VTK loads by name when it draws (its wheels link to none
# of them). With a display it draws through GLX and X11, without one through EGL; either may be
# Mesa's software renderer.
GL_LIBRARIES = {
    "libGL.so.1": ("libgl1", "libgl1-mesa-dri"),
    "libEGL.so.1": ("libegl1", "libegl-mesa0", "libgl1-mesa-dri"),
}
WINDOW_LIBRARIES = {
    "libX11.so.6": ("libx11-6",),
    "libXcursor.so.1": ("libxcursor1",),
    "libXrender.so.1": ("libxrender1",),
}


class Stop(Exception):
    """Ends the run with one sentence for the person at the keyboard."""

    def __init__(self, sentence: str, code: int = 1) -> None:
        super().__init__(sentence)
        self.code = code


@dataclass(frozen=True, slots=True)
class Command:
    """What a word after ``start.py`` needs and runs: Python modules, each with its arguments.

    Where it takes one, a second word is the last module's own argument.
    """

    extras: tuple[str, ...]
    steps: tuple[tuple[str, ...], ...]
    takes_one: bool = False


TESTS = (
    "pytest",
    "-q",
    "--numprocesses=auto",
    "--maxprocesses=4",
    "--dist=loadfile",
    "--no-loadscope-reorder",
)
"""One file of tests to a process at a time; more than four processes would want much memory."""

COMMANDS = {
    "": Command((), (("render.measure.demo",),)),
    "test": Command(
        ("dev",),
        (("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",), TESTS),
    ),
    "bench": Command(("dev",), (("render.measure.benchmarks",),)),
    "gallery": Command(("dev",), (("render.measure.gallery",),)),
    "soak": Command(("dev",), (("render.measure.soak",),), takes_one=True),
}
USAGE = (
    "Use: python3 start.py [test | bench | gallery | soak [MINUTES]] (nothing after it shows a "
    "first wrap)."
)


def choose(arguments: Sequence[str]) -> Command:
    """Give the command that the arguments ask for; refuse anything else with the usage."""
    word, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    command = COMMANDS.get(word)
    if command is None or arguments == [""] or len(rest) > int(command.takes_one):
        raise Stop(f"start.py does not know {' '.join(arguments)!r}. {USAGE}", 2)
    *before, last = command.steps
    return replace(command, steps=(*before, (*last, *rest)))


def say(text: str, end: str = "\n") -> None:
    """Print at once, so that the order holds when other programs print in between."""
    print(text, end=end, flush=True)  # noqa: T201


# ---- What the system must have before anything can be installed


def loads(library: str) -> bool:
    """Tell whether the system's loader finds a shared library."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing_packages(
    platform: str = sys.platform,
    environment: Mapping[str, str] = os.environ,
    loads: Callable[[str], bool] = loads,
) -> list[str]:
    """List, by Debian's names, the system packages that Turnlight lacks here.

    A window's libraries are asked for only where there is a display to open it on.
    """
    packages: list[str] = []
    if importlib.util.find_spec("ensurepip") is None:
        packages.append(f"python3.{sys.version_info.minor}-venv")
    if platform.startswith("linux"):
        libraries = dict(GL_LIBRARIES)
        if environment.get("DISPLAY"):
            libraries.update(WINDOW_LIBRARIES)
        for library, names in libraries.items():
            if not loads(library):
                packages.extend(names)
    return list(dict.fromkeys(packages))


def supply_system(log: Path) -> None:
    """Install missing system packages where this is allowed, else say what to type."""
    packages = missing_packages()
    if not packages:
        return
    install = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    if shutil.which("apt-get") is None:
        raise Stop(
            f"This system lacks what Debian calls {', '.join(packages)}: install your system's "
            "packages for them (Fedora: mesa-libGL mesa-libEGL mesa-dri-drivers libXcursor; "
            "Arch: mesa libxcursor) and run start.py again."
        )
    if sys.platform == "win32" or os.geteuid() != 0:
        raise Stop(
            "Some system packages are missing. Type this line, then run start.py again:\n"
            f"sudo apt-get update && sudo {' '.join(install)}"
        )
    log.parent.mkdir(exist_ok=True)
    say(f"System packages to install: {', '.join(packages)}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    # A failed update is no reason to stop: the lists already there may do.
    run_logged(["apt-get", "update"], log, "Reading the list of system packages", environment)
    if run_logged(install, log, "Installing system packages", environment) != 0:
        raise failure(log, "The system packages could not be installed")
    importlib.invalidate_caches()
    if missing := missing_packages():
        raise Stop(f"Still missing after installing system packages: {', '.join(missing)}.")


# ---- The environment


class Work(Enum):
    """How much of the environment has to be made."""

    NOTHING = "nothing"
    INSTALL = "install"
    REBUILD = "rebuild"


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a finished environment was made from; kept in it as JSON."""

    project: str
    python: str
    root: str
    extras: tuple[str, ...]

    def write(self, folder: Path) -> None:
        """Mark the environment in ``folder`` as finished."""
        (folder / STAMP).write_text(json.dumps(asdict(self), indent=1), encoding="utf-8")

    @classmethod
    def read(cls, folder: Path) -> "Stamp | None":
        """Give the stamp of a finished environment, None for any other."""
        try:
            found = json.loads((folder / STAMP).read_text(encoding="utf-8"))
            return cls(found["project"], found["python"], found["root"], tuple(found["extras"]))
        except (OSError, ValueError, KeyError, TypeError):
            return None


def wanted_stamp(root: Path, extras: Iterable[str]) -> Stamp:
    """Describe the environment that this project, Python and folder ask for."""
    return Stamp(
        project=hashlib.sha256((root / "pyproject.toml").read_bytes()).hexdigest(),
        python=str(sys.implementation.cache_tag),
        root=str(root),
        extras=tuple(sorted(extras)),
    )


def work_needed(found: Stamp | None, wanted: Stamp, python_there: bool) -> Work:
    """Compare what is there with what is wanted. Extras beyond those wanted do no harm."""
    if found is None or not python_there:
        return Work.REBUILD
    # Scripts and the link to the project hold the folder's path: a moved project starts afresh.
    if (found.python, found.root) != (wanted.python, wanted.root):
        return Work.REBUILD
    if found.project != wanted.project or not set(wanted.extras) <= set(found.extras):
        return Work.INSTALL
    return Work.NOTHING


def venv_python(folder: Path, platform: str = sys.platform) -> Path:
    """Say where a virtual environment keeps its Python."""
    if platform == "win32":
        return folder / "Scripts" / "python.exe"
    return folder / "bin" / "python"


def refuse_foreign(folder: Path) -> None:
    """Stop before touching an environment that somebody else made."""
    if (folder / "pyvenv.cfg").exists() and not (folder / STAMP).exists():
        raise Stop(f"{folder} was not made by start.py: move or delete it and run start.py again.")


def empty(folder: Path) -> None:
    """Remove what an earlier environment left, keeping the mark that the folder is ours."""
    for item in folder.iterdir():
        if item.is_dir() and not item.is_symlink():
            shutil.rmtree(item)
        elif item.name not in (STAMP, LOG):
            item.unlink()


def prepare(root: Path, extras: Sequence[str]) -> Path:
    """Bring the environment up to what is wanted and give its Python.

    The stamp says "unfinished" from before the first change until after the last, so that a run
    that was cut off is seen by the next, which starts from an empty folder.
    """
    folder = root / VENV
    python = venv_python(folder)
    log = folder / LOG
    found = Stamp.read(folder)
    wanted = wanted_stamp(root, {*extras, *(found.extras if found else ())})
    work = work_needed(found, wanted, python.exists())
    if work is not Work.NOTHING:
        refuse_foreign(folder)
    supply_system(log)
    if work is Work.NOTHING:
        return python
    folder.mkdir(exist_ok=True)
    (folder / STAMP).write_text("unfinished", encoding="utf-8")
    log.write_text("", encoding="utf-8")
    if work is Work.REBUILD:
        say(f"Making {folder}")
        empty(folder)
        venv.EnvBuilder(with_pip=True, symlinks=os.name != "nt", prompt="turnlight").create(folder)
    install(root, python, wanted.extras, log)
    wanted.write(folder)
    return python


def install(root: Path, python: Path, extras: Sequence[str], log: Path) -> None:
    """Install the project, linked to its source, with pip.

    The project is named by "." and the working folder: so a path with spaces or brackets needs
    no quoting.
    """
    project = f".[{','.join(extras)}]" if extras else "."
    pip = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    pip += ["--progress-bar", "off", "--editable", project]
    title = "Installing Turnlight (some minutes the first time)"
    # Some systems' settings ask pip to install outside environments unless told otherwise.
    environment = {**os.environ, "PIP_USER": "0"}
    if run_logged(pip, log, title, environment, root) != 0:
        raise failure(log, "The installation failed")


def failure(log: Path, sentence: str) -> Stop:
    """Make the refusal that shows the end of a log and says where the whole of it is."""
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines()
    return Stop("\n".join([*lines[-LOG_LINES_SHOWN:], "", f"{sentence}; all of it is in {log}"]))


# ---- Running other programs


def run_logged(
    command: Sequence[str],
    log: Path,
    title: str,
    environment: Mapping[str, str],
    folder: Path | None = None,
) -> int:
    """Run a program with its output in a log, showing the seconds that pass; give its exit code.

    On a terminal the seconds count in place; elsewhere a line is added every half minute.
    """
    live = sys.stdout.isatty()
    started = time.monotonic()
    next_line = 30.0
    say(f"{title} ...", end="" if live else "\n")
    with log.open("ab") as output:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=dict(environment),
            cwd=folder,
        )
        try:
            while True:
                try:
                    code = process.wait(timeout=0.25)
                    break
                except subprocess.TimeoutExpired:
                    seconds = time.monotonic() - started
                if live:
                    say(f"\r{title} ... {seconds:.0f} s", end="")
                elif seconds >= next_line:
                    say(f"  {seconds:.0f} s")
                    next_line += 30.0
        except BaseException:
            process.kill()
            process.wait()
            raise
    seconds = time.monotonic() - started
    say(f"\r{title} ... {seconds:.0f} s" if live else f"  done in {seconds:.0f} s")
    return code


def run_step(python: Path, step: Sequence[str], root: Path) -> int:
    """Run one module with the environment's Python and give its exit code.

    Ctrl-C reaches the module as well as this program: it is given time to tidy up.
    """
    process = subprocess.Popen([str(python), "-m", *step], cwd=root)
    try:
        code = process.wait()
    except KeyboardInterrupt:
        try:
            process.wait(timeout=10)
        except (subprocess.TimeoutExpired, KeyboardInterrupt):
            process.kill()
        raise
    # A program ended by a signal gives its negative number; a shell calls that 128 and more.
    return 128 - code if code < 0 else code


def run_steps(python: Path, steps: Sequence[Sequence[str]], root: Path) -> int:
    """Run every step, also after one failed, and give the first failure's exit code.

    The last step's output comes last: a test run ends with the test runner's own count.
    """
    codes: list[int] = []
    for step in steps:
        if len(steps) > 1:
            say(f"== {' '.join(step)}")
        codes.append(run_step(python, step, root))
    failed = [" ".join(step) for step, code in zip(steps, codes, strict=True) if code]
    if failed and len(steps) > 1:
        say(f"== failed: {', '.join(failed)}")
    return next((code for code in codes if code), 0)


def main(arguments: Sequence[str]) -> int:
    """Set up, run, and give the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        command = choose(arguments)
        try:
            python = prepare(ROOT, command.extras)
        except (OSError, ValueError, subprocess.CalledProcessError) as error:
            raise Stop(f"The environment in {ROOT / VENV} could not be made: {error}") from error
        return run_steps(python, command.steps, ROOT)
    except Stop as stop:
        sys.stderr.write(f"{stop}\n")
        return stop.code
    except KeyboardInterrupt:
        say("\nStopped.")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
