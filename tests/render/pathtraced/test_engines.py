"""Which engine traces photos: what is looked for, tried, remembered and said."""

import os
from pathlib import Path

import pytest

from render.common.problems import RequestProblem
from render.pathtraced import engine_choice
from render.pathtraced.engine_choice import ENGINE_VARIABLE, Choice, choose_engine
from render.pathtraced.engines import LLVM_VARIABLE, Engine, cuda_driver, llvm_libraries


@pytest.fixture(autouse=True)
def nothing_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Leave what the machine's user has set, and has found out, out of it."""
    for name in (ENGINE_VARIABLE, LLVM_VARIABLE, "LD_LIBRARY_PATH"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))


def laid(root: Path, *names: str) -> None:
    for name in names:
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, encoding="utf-8")


# ---- What is there


def test_libraries_of_llvm_the_newest_first(tmp_path: Path) -> None:
    # Names of Debian's packages libllvm14 to libllvm22, and of two files that are none.
    folder = "usr/lib/x86_64-linux-gnu/"
    names = ("libLLVM-14.so.1", "libLLVM-16.so.1", "libLLVM.so.19.1", "libLLVM.so.22.1")
    laid(tmp_path, *(folder + name for name in names))
    laid(tmp_path, "usr/lib/llvm-16/lib/libLLVMX86CodeGen.a", folder + "libLLVM-16.txt")
    (tmp_path / folder / "libLLVM-16.so").symlink_to("libLLVM-16.so.1")
    found = llvm_libraries(tmp_path, "linux")
    assert [path.name for path in found] == ["libLLVM.so.22.1", "libLLVM.so.19.1", names[1]]


def test_a_library_that_is_named_is_the_only_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(LLVM_VARIABLE, "/mine/libLLVM.so")
    assert llvm_libraries() == [Path("/mine/libLLVM.so")]


def test_no_driver_no_gpu(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert cuda_driver(tmp_path, "linux") is None
    assert cuda_driver(tmp_path, "darwin") is None
    laid(tmp_path, "usr/lib/wsl/lib/libcuda.so.1")
    assert cuda_driver(tmp_path, "linux") == tmp_path / "usr/lib/wsl/lib/libcuda.so.1"
    laid(tmp_path, "own/libcuda.so.1")
    monkeypatch.setenv("LD_LIBRARY_PATH", f"/none:{tmp_path / 'own'}")
    assert cuda_driver(tmp_path, "linux") == tmp_path / "own/libcuda.so.1"


def test_how_each_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert [kind.words for kind in Engine] == ["GPU", "2 cores, LLVM", "2 cores"]
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert Engine.LLVM.words == "1 core, LLVM"


# ---- What is tried


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a machine with a driver and two libraries; a trial does what stands in their files.

    The child process is a real one, and it ends as a driver or a compiler may end it.
    """
    laid(tmp_path, "libcuda.so.1", "libLLVM.so.22.1", "libLLVM.so.19.1", "trial.py")
    monkeypatch.setattr(engine_choice, "cuda_driver", lambda: tmp_path / "libcuda.so.1")
    libraries = [tmp_path / "libLLVM.so.22.1", tmp_path / "libLLVM.so.19.1"]
    monkeypatch.setattr(engine_choice, "llvm_libraries", lambda: libraries)
    monkeypatch.setattr(engine_choice.engine_trial, "__file__", str(tmp_path / "trial.py"))
    (tmp_path / "trial.py").write_text(
        f"""import os, pathlib, sys
folder = pathlib.Path({str(tmp_path)!r})
cuda = sys.argv[1] == "cuda_ad_rgb"
name = "libcuda.so.1" if cuda else pathlib.Path(os.environ[{LLVM_VARIABLE!r}]).name
with open(folder / "tried", "a") as log:
    print(name, file=log)
what = (folder / name).read_text()
if what == "aborts":
    os.abort()
sys.exit(what != "works")
""",
        encoding="utf-8",
    )
    return tmp_path


def tried(machine: Path) -> list[str]:
    """Names of the files of the trials since the last call."""
    log = machine / "tried"
    names = log.read_text(encoding="utf-8").split() if log.exists() else []
    log.unlink(missing_ok=True)
    return names


def becomes(machine: Path, **files: str) -> None:
    names = {"cuda": "libcuda.so.1", "new": "libLLVM.so.22.1", "old": "libLLVM.so.19.1"}
    for name, text in files.items():
        (machine / names[name]).write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("files", "engine", "library", "trials"),
    [
        ({"cuda": "works"}, Engine.GPU, None, 1),
        ({"cuda": "aborts", "new": "works"}, Engine.LLVM, "libLLVM.so.22.1", 2),
        ({"cuda": "fails", "new": "aborts", "old": "works"}, Engine.LLVM, "libLLVM.so.19.1", 3),
        ({"cuda": "fails", "new": "aborts", "old": "aborts"}, Engine.SCALAR, None, 3),
    ],
)
def test_the_fastest_that_works_is_found_once(
    machine: Path, files: dict[str, str], engine: Engine, library: str | None, trials: int
) -> None:
    becomes(machine, **files)
    notes: list[str] = []
    chosen = choose_engine(note=notes.append)
    assert chosen == Choice(engine, None if library is None else machine / library)
    assert len(tried(machine)) == trials
    assert len(notes) == 1
    assert choose_engine(note=notes.append) == chosen
    assert tried(machine) == []
    assert len(notes) == 1


def test_a_new_driver_is_tried_anew(machine: Path) -> None:
    becomes(machine, cuda="aborts", new="works")
    assert choose_engine().engine is Engine.LLVM
    assert choose_engine(Engine.LLVM).engine is Engine.LLVM
    tried(machine)
    becomes(machine, cuda="works")
    assert choose_engine().engine is Engine.GPU
    assert tried(machine) == ["libcuda.so.1"]
    # What does not depend on the driver is still known.
    assert choose_engine(Engine.LLVM).engine is Engine.LLVM
    assert tried(machine) == []


def test_a_new_version_of_the_tracer_is_tried_anew(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    becomes(machine, cuda="works")
    choose_engine()
    tried(machine)
    monkeypatch.setattr(engine_choice.metadata, "version", lambda package: "99")
    choose_engine()
    assert tried(machine) == ["libcuda.so.1"]


@pytest.mark.parametrize("content", ["", "{}", "[3]", '[{"key": []}]', "[]" * 9, "\0"])
def test_a_damaged_memory_counts_as_none(machine: Path, content: str) -> None:
    becomes(machine, cuda="works")
    choose_engine()
    (kept,) = (machine / "state" / "cache").glob("photo-engine*")
    kept.write_text(content, encoding="utf-8")
    tried(machine)
    assert choose_engine().engine is Engine.GPU
    assert choose_engine().engine is Engine.GPU
    assert tried(machine) == ["libcuda.so.1"]


# ---- What is asked for


def test_an_engine_that_is_wanted(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(machine, cuda="works", new="works")
    assert choose_engine(Engine.SCALAR) == Choice(Engine.SCALAR)
    assert choose_engine(Engine.LLVM).engine is Engine.LLVM
    monkeypatch.setenv(ENGINE_VARIABLE, " LLVM ")
    assert choose_engine().engine is Engine.LLVM
    assert choose_engine(Engine.GPU).engine is Engine.GPU  # the option goes before the variable


def test_an_engine_that_does_not_work_is_refused(machine: Path) -> None:
    becomes(machine, cuda="aborts", new="fails", old="fails")
    with pytest.raises(RequestProblem, match="gpu does not work here, because it needs an NVIDIA"):
        choose_engine(Engine.GPU)
    with pytest.raises(RequestProblem, match=r"llvm does not work here.*apt-get install libllvm19"):
        choose_engine(Engine.LLVM)


def test_a_variable_that_names_no_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(ENGINE_VARIABLE, "cuda")
    with pytest.raises(RequestProblem) as refused:
        choose_engine()
    assert str(refused.value) == (
        'TURNLIGHT_PHOTO_ENGINE: "cuda" is no engine; set it to gpu, llvm, scalar, or unset it for '
        "the fastest that works here."
    )
