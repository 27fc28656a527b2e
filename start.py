"""Set Turnlight up in ``.venv`` beside this file, and run it.

``python3 start.py`` shows a first wrap. With ``test``, ``bench``, ``gallery`` or ``soak`` it runs
the tests, the benchmarks, the gallery of pictures, or the soak test of the page. It needs the
standard library only. A second run finds everything installed and starts at once.
"""

import ctypes
import hashlib
import importlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import time
import venv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from enum import Enum
from pathlib import Path

# Older versions of Python must be able to read this file to print the message: nothing above, and
# no syntax below, may be newer than Python 3.8.
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

# Packages of LLVM's library with which the path tracer compiles its program for the processor, the
# newest first. It works without, in twice the time; versions before 17 end its process.
LLVM_PACKAGES = tuple(f"libllvm{version}" for version in range(22, 16, -1))
LLVM_FILES = ("lib/*/libLLVM[.-]*", "lib64/libLLVM[.-]*", "lib/libLLVM[.-]*")


class Stop(Exception):
    """Ends the run with one sentence for the user."""

    def __init__(self, sentence: str, code: int = 1) -> None:
        super().__init__(sentence)
        self.code = code


@dataclass(frozen=True, slots=True)
class Command:
    """A command of ``start.py``.

    Parameters
    ----------
    extras : tuple of str
        Extras of the project that it needs.
    steps : tuple of tuple of str
        Python modules that it runs, each with its arguments.
    takes_argument : bool
        Whether any further word is passed to the last module.
    words : tuple of str
        Further words of which one is passed to the last module.
    beside : tuple of str
        A module that runs beside all steps but the last, which it makes quicker: a free processor
        does the work. Its output and exit code are unheard.
    """

    extras: tuple[str, ...]
    steps: tuple[tuple[str, ...], ...]
    takes_argument: bool = False
    words: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()


MOST_TEST_PROCESSES = 4
"""More need too much memory."""

TEST_PROCESSES = min((os.cpu_count() or 1) + 1, MOST_TEST_PROCESSES)
"""One more than processors: tests of the page wait for a browser a quarter of their time."""

TESTS = (
    "pytest",
    "-q",
    f"--numprocesses={TEST_PROCESSES}",
    "--dist=loadfile",
    "--no-loadscope-reorder",
)
"""Each process takes one file of tests at a time."""

READ_TESTS = ("pytest", "-q", "--collect-only")
"""Leaves the bytecode of the tests and of all they import, which each process would else make."""

COMMANDS = {
    "": Command(("photo",), (("render.measure.demo",),)),
    "test": Command(
        ("dev",),
        (("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",), TESTS),
        beside=READ_TESTS,
    ),
    "bench": Command(("dev",), (("render.measure.benchmarks",),), words=("quick",)),
    "gallery": Command(("dev",), (("render.measure.gallery",),)),
    "soak": Command(("dev",), (("render.measure.soak",),), takes_argument=True),
}
USAGE = (
    "Use: python3 start.py [test | bench [quick] | gallery | soak [MINUTES]] (nothing after it "
    "shows a first wrap)."
)


def choose(arguments: Sequence[str]) -> Command:
    """Find the command that the arguments name; refuse anything else with the usage."""
    word, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    command = COMMANDS.get(word)
    known = command is not None and (
        not rest or (len(rest) == 1 and (command.takes_argument or rest[0] in command.words))
    )
    if command is None or arguments == [""] or not known:
        raise Stop(f"start.py does not know {' '.join(arguments)!r}. {USAGE}", 2)
    *before, last = command.steps
    return replace(command, steps=(*before, (*last, *rest)))


def print_now(text: str, end: str = "\n") -> None:
    """Print without buffering, so that the output of other programs stays in order."""
    print(text, end=end, flush=True)  # noqa: T201


# ---- System packages that must exist before the installation


def loads(library: str) -> bool:
    """Whether the system's loader finds a shared library."""
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
    """List the missing system packages by Debian's names.

    Libraries of windows are needed only if there is a display.
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
    """Install missing system packages if allowed, else stop with the command to type."""
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
    print_now(f"System packages to install: {', '.join(packages)}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    # If the update fails, the present package lists may be sufficient.
    run_logged(["apt-get", "update"], log, "Reading the list of system packages", environment)
    if run_logged(install, log, "Installing system packages", environment) != 0:
        raise failure(log, "The system packages could not be installed")
    importlib.invalidate_caches()
    if missing := missing_packages():
        raise Stop(f"Still missing after installing system packages: {', '.join(missing)}.")


def has_llvm(root: Path = Path("/usr")) -> bool:
    """Whether a library of LLVM is installed that the path tracer can use."""
    names = [path.resolve().name for pattern in LLVM_FILES for path in root.glob(pattern)]
    versions = [re.search(r"libLLVM(?:-|\.so\.)(\d+)", name) for name in names]
    oldest = int(LLVM_PACKAGES[-1].lstrip("libvm"))
    return any(version and int(version[1]) >= oldest for version in versions)


def supply_llvm(extras: Iterable[str], log: Path, platform: str = sys.platform) -> None:
    """Install LLVM's library for the path tracer if allowed; only say what to type if not."""
    if not platform.startswith("linux") or not {"photo", "dev"} & set(extras) or has_llvm():
        return
    if shutil.which("apt-get") is None:
        print_now("Photos take half the time with LLVM (Fedora: llvm-libs; Arch: llvm-libs).")
        return
    if os.geteuid() != 0:
        print_now("Photos take half the time with LLVM: sudo apt-get install libllvm19, or newer.")
        return
    log.parent.mkdir(exist_ok=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    run_logged(["apt-get", "update"], log, "Reading the list of system packages", environment)
    for package in LLVM_PACKAGES:
        known = ["apt-cache", "show", package]
        if subprocess.run(known, capture_output=True, check=False).returncode == 0:
            install = ["apt-get", "install", "-y", "--no-install-recommends", package]
            run_logged(install, log, f"Installing {package}", environment)
            return


# ---- The environment


class Work(Enum):
    """How much of the environment has to be made."""

    NOTHING = "nothing"
    INSTALL = "install"
    REBUILD = "rebuild"


@dataclass(frozen=True, slots=True)
class Stamp:
    """Description of a finished environment, which is stored in it as JSON."""

    project: str
    python: str
    root: str
    extras: tuple[str, ...]

    def write(self, folder: Path) -> None:
        """Mark the environment in ``folder`` as finished."""
        (folder / STAMP).write_text(json.dumps(asdict(self), indent=1), encoding="utf-8")

    @classmethod
    def read(cls, folder: Path) -> "Stamp | None":
        """Read the stamp of an environment; None if it is not finished."""
        try:
            found = json.loads((folder / STAMP).read_text(encoding="utf-8"))
            return cls(found["project"], found["python"], found["root"], tuple(found["extras"]))
        except (OSError, ValueError, KeyError, TypeError):
            return None


def wanted_stamp(root: Path, extras: Iterable[str]) -> Stamp:
    """Stamp of the environment that this project, Python and folder need.

    What is compiled on installing counts as well as what is installed.
    """
    sources = [root / "pyproject.toml", *sorted((root / "geometry").rglob("*.c"))]
    return Stamp(
        project=hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest(),
        python=str(sys.implementation.cache_tag),
        root=str(root),
        extras=tuple(sorted(extras)),
    )


def work_needed(found: Stamp | None, wanted: Stamp, python_there: bool) -> Work:
    """Compare the present with the wanted environment. Further extras do no harm."""
    if found is None or not python_there:
        return Work.REBUILD
    # Scripts and the link to the project contain the folder's path: after a move, rebuild.
    if (found.python, found.root) != (wanted.python, wanted.root):
        return Work.REBUILD
    if found.project != wanted.project or not set(wanted.extras) <= set(found.extras):
        return Work.INSTALL
    return Work.NOTHING


def venv_python(folder: Path, platform: str = sys.platform) -> Path:
    """Path of Python in a virtual environment."""
    if platform == "win32":
        return folder / "Scripts" / "python.exe"
    return folder / "bin" / "python"


def refuse_foreign(folder: Path) -> None:
    """Stop if the environment was not made by this program."""
    if (folder / "pyvenv.cfg").exists() and not (folder / STAMP).exists():
        raise Stop(f"{folder} was not made by start.py: move or delete it and run start.py again.")


def empty(folder: Path) -> None:
    """Remove the content of an earlier environment, except its stamp and log."""
    for item in folder.iterdir():
        if item.is_dir() and not item.is_symlink():
            shutil.rmtree(item)
        elif item.name not in (STAMP, LOG):
            item.unlink()


def prepare(root: Path, extras: Sequence[str]) -> Path:
    """Bring the environment up to date, and return the path of its Python.

    The stamp says "unfinished" during all changes. After a run that was cut off, the next run
    notices this and starts with an empty folder.
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
    if work is not Work.NOTHING or "dev" in extras:
        supply_llvm(wanted.extras, log)
    if work is Work.NOTHING:
        return python
    folder.mkdir(exist_ok=True)
    (folder / STAMP).write_text("unfinished", encoding="utf-8")
    log.write_text("", encoding="utf-8")
    if work is Work.REBUILD:
        print_now(f"Making {folder}")
        empty(folder)
        venv.EnvBuilder(with_pip=True, symlinks=os.name != "nt", prompt="turnlight").create(folder)
        renew_pip(python, log)
    install(root, python, wanted.extras, log)
    wanted.write(folder)
    return python


def pip_install(python: Path, *what: str) -> list[str]:
    """Command that installs with pip.

    No bytecode is made: most of it would never be read, and what is imported leaves its own.
    """
    quiet = ("--disable-pip-version-check", "--no-input", "--progress-bar", "off", "--no-compile")
    return [str(python), "-m", "pip", "install", *quiet, *what]


# Some systems' settings ask pip to install outside environments unless told otherwise.
INSIDE = {"PIP_USER": "0"}


def renew_pip(python: Path, log: Path) -> None:
    """Replace the pip that came with Python by a newer one where there is one.

    pip 23.2, of Python 3.11, takes half as long again to find and install the same packages. It
    does as well if this fails.
    """
    command = pip_install(python, "--upgrade", "pip")
    run_logged(command, log, "Bringing pip up to date", {**os.environ, **INSIDE})


def install(root: Path, python: Path, extras: Sequence[str], log: Path) -> None:
    """Install the project, linked to its source, with pip.

    The project is given as "." in its own folder, so that a path with spaces or brackets needs no
    quoting.
    """
    project = f".[{','.join(extras)}]" if extras else "."
    command = pip_install(python, "--editable", project)
    title = "Installing Turnlight (some minutes the first time)"
    if run_logged(command, log, title, {**os.environ, **INSIDE}, root) != 0:
        raise failure(log, "The installation failed")


def failure(log: Path, sentence: str) -> Stop:
    """Make a `Stop` that shows the end of a log and its path."""
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
    """Run a program with its output in a log, show the elapsed time, and return its exit code.

    On a terminal the time is updated in place; elsewhere a line is printed every half minute.
    """
    live = sys.stdout.isatty()
    started = time.monotonic()
    next_line = 30.0
    print_now(f"{title} ...", end="" if live else "\n")
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
                    print_now(f"\r{title} ... {seconds:.0f} s", end="")
                elif seconds >= next_line:
                    print_now(f"  {seconds:.0f} s")
                    next_line += 30.0
        except BaseException:
            process.kill()
            process.wait()
            raise
    seconds = time.monotonic() - started
    print_now(f"\r{title} ... {seconds:.0f} s" if live else f"  done in {seconds:.0f} s")
    return code


def run_step(python: Path, step: Sequence[str], root: Path) -> int:
    """Run one module with the environment's Python, and return its exit code.

    Ctrl-C reaches the module as well as this program, which gives it time to clean up.
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
    # Popen returns minus the number of a signal; shells report 128 plus that number.
    return 128 - code if code < 0 else code


@contextmanager
def unheard(python: Path, module: Sequence[str], root: Path) -> Iterator[None]:
    """Run one module with the environment's Python beside what is done meanwhile, to its end."""
    if not module:
        yield
        return
    process = subprocess.Popen(
        [str(python), "-m", *module],
        cwd=root,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield
        process.wait()
    except BaseException:
        process.kill()
        process.wait()
        raise


def run_steps(
    python: Path, steps: Sequence[Sequence[str]], root: Path, beside: Sequence[str] = ()
) -> int:
    """Run all steps, even after a failure, and return the exit code of the first failure.

    The output of the last step comes last: a test run ends with the summary of pytest. What runs
    beside the others has ended when it begins.
    """

    def run(step: Sequence[str]) -> int:
        if len(steps) > 1:
            print_now(f"== {' '.join(step)}")
        return run_step(python, step, root)

    *first, last = steps
    with unheard(python, beside, root):
        codes = [run(step) for step in first]
    codes.append(run(last))
    failed = [" ".join(step) for step, code in zip(steps, codes, strict=True) if code]
    if failed and len(steps) > 1:
        print_now(f"== failed: {', '.join(failed)}")
    return next((code for code in codes if code), 0)


def main(arguments: Sequence[str]) -> int:
    """Set up the environment, run the command, and return the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        command = choose(arguments)
        try:
            python = prepare(ROOT, command.extras)
        except (OSError, ValueError, subprocess.CalledProcessError) as error:
            raise Stop(f"The environment in {ROOT / VENV} could not be made: {error}") from error
        return run_steps(python, command.steps, ROOT, command.beside)
    except Stop as stop:
        sys.stderr.write(f"{stop}\n")
        return stop.code
    except KeyboardInterrupt:
        print_now("\nStopped.")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
