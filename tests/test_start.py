"""start.py: what it refuses, what it decides to do, and what it runs. Nothing is installed here."""

import ast
import errno
import importlib.util
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
START = ROOT / "start.py"


@pytest.fixture
def start():
    """Give start.py as a module, as it is no part of a package."""
    spec = importlib.util.spec_from_file_location("turnlight_start", START)
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up while they are made.
    sys.modules[spec.name] = module
    try:
        spec.loader.exec_module(module)
        yield module
    finally:
        del sys.modules[spec.name]


@pytest.fixture
def project(tmp_path):
    """Give a project's folder with spaces and brackets in its path."""
    root = tmp_path / "rods and wraps [2]"
    root.mkdir()
    (root / "pyproject.toml").write_text("[project]\nname = 'turnlight'\n", encoding="utf-8")
    return root


@pytest.fixture
def bench(start, project, monkeypatch):
    """Stand in for venv and pip: what would be made and run is noted, and makes its mark."""
    done = []

    class Builder:
        def __init__(self, **_options):
            pass

        def create(self, folder):
            done.append("venv")
            (folder / "pyvenv.cfg").write_text("", encoding="utf-8")
            python = start.venv_python(folder)
            python.parent.mkdir(parents=True)
            python.write_text("", encoding="utf-8")

    def run_logged(command, log, title, environment, folder=None):
        done.append(command[-1])
        return 0

    monkeypatch.setattr(start.venv, "EnvBuilder", Builder)
    monkeypatch.setattr(start, "run_logged", run_logged)
    monkeypatch.setattr(start, "missing_packages", list)
    monkeypatch.setattr(start, "has_llvm", lambda: True)
    return done


# ---- The words after start.py


@pytest.mark.parametrize(
    "arguments",
    [
        *(["nonsense"], ["test", "more"], ["--help"], [""], ["test "], ["bench", ""], ["TEST"]),
        *(["-"], ["soak", "1", "2"], ["bench", "slow"], ["bench", "quick", "quick"]),
    ],
)
def test_unknown_words_are_refused_with_one_sentence(start, arguments, capsys):
    assert start.main(arguments) == 2
    output = capsys.readouterr()
    assert output.out == ""
    assert "python3 start.py [test | bench [quick] | gallery | soak [MINUTES]]" in output.err
    assert len(output.err.splitlines()) == 1


def test_nonsense_on_the_command_line_exits_2(tmp_path):
    result = subprocess.run(
        [sys.executable, str(START), "nonsense"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 2
    assert "does not know 'nonsense'" in result.stderr
    assert result.stdout == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "extras", "first"),
    [
        ([], ("photo",), "render.measure.demo"),
        (["test"], ("dev",), "ruff"),
        (["bench"], ("dev",), "render.measure.benchmarks"),
        (["gallery"], ("dev",), "render.measure.gallery"),
        (["soak"], ("dev",), "render.measure.soak"),
        (["bench", "quick"], ("dev",), "render.measure.benchmarks"),
    ],
)
def test_known_words(start, arguments, extras, first):
    command = start.choose(arguments)
    assert command.extras == extras
    assert command.steps[0][0] == first


# What the package index has wheels of the path tracer for, and what it has not.
@pytest.mark.parametrize(
    ("system", "machine", "there"),
    [
        ("linux", "x86_64", True),
        ("darwin", "arm64", True),
        ("win32", "AMD64", True),
        ("linux", "aarch64", False),
        ("darwin", "x86_64", False),
    ],
)
def test_the_path_tracer_is_asked_for_only_where_there_is_one(system, machine, there):
    project = tomllib.loads((START.parent / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [Requirement(text) for text in project["project"]["optional-dependencies"]["photo"]]
    assert [one.name for one in wanted] == ["mitsuba", "mitsuba-oidn"]
    here = {"sys_platform": system, "platform_machine": machine}
    assert all(one.marker.evaluate(here) is there for one in wanted)


def test_minutes_of_a_soak_go_to_it(start):
    assert start.choose(["soak"]).steps == (("render.measure.soak",),)
    assert start.choose(["soak", "60"]).steps == (("render.measure.soak", "60"),)


def test_the_tests_end_with_pytest(start):
    assert [step[0] for step in start.COMMANDS["test"].steps] == ["ruff", "ruff", "mypy", "pytest"]


# ---- Any Python, any system


def test_python_3_8_can_read_it():
    # So that it can say which Python it needs: the interpreter's own older grammar is the judge.
    ast.parse(START.read_text(encoding="utf-8"), feature_version=(3, 8))


def test_an_older_python_is_told_what_to_do(monkeypatch, start):
    monkeypatch.setattr(sys, "version_info", (3, 10, 4, "final", 0))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer"):
        exec(compile(START.read_text(encoding="utf-8"), str(START), "exec"), {"__name__": "old"})


def test_needs_the_standard_library_only():
    imported = {
        (node.module if isinstance(node, ast.ImportFrom) else alias.name).partition(".")[0]
        for node in ast.walk(ast.parse(START.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert imported <= sys.stdlib_module_names


def test_python_of_the_environment(start, tmp_path):
    # Where the standard library's own venv module puts it, by its documentation.
    folder = tmp_path / "a b" / ".venv"
    assert start.venv_python(folder, "win32") == folder / "Scripts" / "python.exe"
    assert start.venv_python(folder, "linux") == folder / "bin" / "python"
    assert start.venv_python(folder, "darwin") == folder / "bin" / "python"


# ---- System libraries

GL = ["libgl1", "libgl1-mesa-dri", "libegl1", "libegl-mesa0"]


@pytest.mark.parametrize(
    ("platform", "display", "there", "packages"),
    [
        ("linux", "", ["libGL.so.1", "libEGL.so.1"], []),
        ("linux", "", ["libEGL.so.1"], ["libgl1", "libgl1-mesa-dri"]),
        ("linux", "", ["libGL.so.1"], ["libegl1", "libegl-mesa0", "libgl1-mesa-dri"]),
        ("linux", "", [], GL),
        ("linux", ":0", [], [*GL, "libx11-6", "libxcursor1", "libxrender1"]),
        ("linux", ":0", ["libGL.so.1", "libEGL.so.1", "libX11.so.6", "libXrender.so.1"], None),
        ("darwin", ":0", [], []),
        ("win32", "", [], []),
    ],
)
def test_missing_libraries_are_named_by_package(start, platform, display, there, packages):
    found = start.missing_packages(platform, {"DISPLAY": display}, lambda name: name in there)
    assert sorted(found) == sorted(["libxcursor1"] if packages is None else packages)


def test_a_library_that_no_system_has_does_not_load(start):
    assert not start.loads("libturnlight-no-such-library.so.1")


def test_missing_venv_module_is_named_by_package(start, monkeypatch):
    monkeypatch.setattr(start.importlib.util, "find_spec", lambda name: None)
    package = f"python3.{sys.version_info.minor}-venv"
    assert start.missing_packages("linux", {}, lambda name: True) == [package]


def refused(start, log):
    with pytest.raises(start.Stop) as stop:
        start.supply_system(log)
    return str(stop.value)


@pytest.mark.skipif(sys.platform == "win32", reason="apt-get is a thing of Debian and its kin")
class TestSupplySystem:
    """Missing packages: told, or installed by one who may."""

    @pytest.fixture(autouse=True)
    def lacking(self, start, monkeypatch):
        monkeypatch.setattr(start, "missing_packages", lambda: ["libegl1"])
        monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")

    def test_an_ordinary_user_gets_the_line_to_type(self, start, monkeypatch, tmp_path):
        monkeypatch.setattr(os, "geteuid", lambda: 1000)
        last = refused(start, tmp_path / "log").splitlines()[-1]
        assert last.startswith("sudo apt-get update && sudo apt-get install -y ")
        assert last.endswith(" libegl1")

    def test_elsewhere_the_packages_are_named(self, start, monkeypatch, tmp_path):
        monkeypatch.setattr(start.shutil, "which", lambda name: None)
        sentence = refused(start, tmp_path / "log")
        assert "libegl1" in sentence
        assert "mesa-libEGL" in sentence

    def test_root_installs(self, start, monkeypatch, tmp_path):
        commands = []

        def run_logged(command, log, title, environment, folder=None):
            commands.append(command)
            assert environment["DEBIAN_FRONTEND"] == "noninteractive"
            monkeypatch.setattr(start, "missing_packages", list)
            return 100 if "update" in command else 0

        monkeypatch.setattr(os, "geteuid", lambda: 0)
        monkeypatch.setattr(start, "run_logged", run_logged)
        start.supply_system(tmp_path / "log")
        assert [command[:2] for command in commands] == [
            ["apt-get", "update"],
            ["apt-get", "install"],
        ]
        assert commands[-1][-1] == "libegl1"

    def test_root_hears_when_it_did_not_help(self, start, monkeypatch, tmp_path):
        monkeypatch.setattr(os, "geteuid", lambda: 0)
        monkeypatch.setattr(start, "run_logged", lambda *_: 0)
        assert "Still missing" in refused(start, tmp_path / "log")


@pytest.mark.parametrize(
    ("files", "there"),
    [
        ((), False),
        (("lib/x86_64-linux-gnu/libLLVM-15.so.1", "lib64/libLLVM-16.so"), False),
        (("lib/aarch64-linux-gnu/libLLVM-17.so.1",), True),
        (("lib/x86_64-linux-gnu/libLLVM-15.so.1", "lib/x86_64-linux-gnu/libLLVM.so.19.1"), True),
    ],
)
def test_whether_llvm_is_there(start, tmp_path, files, there):
    # Names of the packages' files in Debian and Fedora.
    for name in files:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    assert start.has_llvm(tmp_path) is there


@pytest.mark.skipif(sys.platform == "win32", reason="apt-get is a thing of Debian and its kin")
class TestSupplyLlvm:
    """LLVM for the path tracer: installed by one who may, else only told."""

    @pytest.fixture(autouse=True)
    def commands(self, start, monkeypatch):
        commands = []
        known = ("libllvm19", "libllvm18")

        def run(command, **_):
            return subprocess.CompletedProcess(command, 0 if command[-1] in known else 100)

        monkeypatch.setattr(start, "has_llvm", lambda: False)
        monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
        monkeypatch.setattr(start.subprocess, "run", run)
        monkeypatch.setattr(start, "run_logged", lambda command, *_: commands.append(command))
        monkeypatch.setattr(os, "geteuid", lambda: 0)
        return commands

    def test_root_installs_the_newest_package_there_is(self, start, tmp_path, commands):
        start.supply_llvm(["photo"], tmp_path / "log", "linux")
        assert [command[-1] for command in commands] == ["update", "libllvm19"]

    def test_nothing_is_installed_without_the_path_tracer_or_elsewhere(
        self, start, tmp_path, commands, capsys
    ):
        start.supply_llvm([], tmp_path / "log", "linux")
        start.supply_llvm(["dev"], tmp_path / "log", "darwin")
        assert commands == []
        assert capsys.readouterr().out == ""

    def test_an_ordinary_user_is_told_what_to_type(
        self, start, monkeypatch, tmp_path, commands, capsys
    ):
        monkeypatch.setattr(os, "geteuid", lambda: 1000)
        start.supply_llvm(["photo"], tmp_path / "log", "linux")
        assert "sudo apt-get install libllvm19" in capsys.readouterr().out
        assert commands == []


# ---- The stamp


def test_stamp_survives_the_file(start, project):
    stamp = start.wanted_stamp(project, ["photo", "dev"])
    assert stamp.extras == ("dev", "photo")
    stamp.write(project)
    assert start.Stamp.read(project) == stamp


@pytest.mark.parametrize("text", ["", "unfinished", "[]", "{}", '{"project": 1}', "null", "\x00"])
def test_a_broken_stamp_is_no_stamp(start, tmp_path, text):
    (tmp_path / start.STAMP).write_text(text, encoding="utf-8")
    assert start.Stamp.read(tmp_path) is None


def test_no_stamp_is_no_stamp(start, tmp_path):
    assert start.Stamp.read(tmp_path / "absent") is None


def test_work_needed(start, project):
    base, dev = (start.wanted_stamp(project, extras) for extras in ([], ["dev"]))
    (project / "pyproject.toml").write_text("[project]\nname = 'other'\n", encoding="utf-8")
    newer = start.wanted_stamp(project, [])
    moved = start.wanted_stamp(ROOT, [])
    assert start.work_needed(base, base, True) is start.Work.NOTHING
    assert start.work_needed(dev, base, True) is start.Work.NOTHING
    assert start.work_needed(base, dev, True) is start.Work.INSTALL
    assert start.work_needed(base, newer, True) is start.Work.INSTALL
    assert start.work_needed(base, moved, True) is start.Work.REBUILD
    assert start.work_needed(base, base, False) is start.Work.REBUILD
    assert start.work_needed(None, base, True) is start.Work.REBUILD


def test_changed_source_of_a_compiled_part_installs_again(start, project):
    before = start.wanted_stamp(project, [])
    source = project / "geometry" / "layers" / "walk.c"
    source.parent.mkdir(parents=True)
    source.write_text("int walk;\n", encoding="utf-8")
    assert start.work_needed(before, start.wanted_stamp(project, []), True) is start.Work.INSTALL


# ---- Making the environment


def test_a_second_run_does_nothing(start, project, bench, capsys):
    python = start.prepare(project, ())
    assert python == start.venv_python(project / ".venv")
    assert bench == ["venv", "pip", "."]
    capsys.readouterr()
    assert start.prepare(project, ()) == python
    assert bench == ["venv", "pip", "."]
    assert capsys.readouterr() == ("", "")


def test_dev_is_added_and_satisfies_the_rest(start, project, bench):
    start.prepare(project, ())
    start.prepare(project, ("dev",))
    start.prepare(project, ())
    assert bench == ["venv", "pip", ".", ".[dev]"]
    (project / "pyproject.toml").write_text("[project]\nname = 'newer'\n", encoding="utf-8")
    start.prepare(project, ())
    assert bench == ["venv", "pip", ".", ".[dev]", ".[dev]"]


def test_a_run_that_was_cut_off_heals(start, project, bench, monkeypatch):
    def cut_off(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as context:
        context.setattr(start, "install", cut_off)
        with pytest.raises(KeyboardInterrupt):
            start.prepare(project, ())
    (project / ".venv" / "lib" / "half").mkdir(parents=True)
    (project / ".venv" / "stray").write_text("", encoding="utf-8")
    start.prepare(project, ())
    assert bench == ["venv", "pip", "venv", "pip", "."]
    assert not (project / ".venv" / "lib").exists()
    assert not (project / ".venv" / "stray").exists()


def test_a_lost_python_heals(start, project, bench):
    start.prepare(project, ()).unlink()
    start.prepare(project, ())
    assert bench == ["venv", "pip", ".", "venv", "pip", "."]


def test_somebody_elses_environment_is_left_alone(start, project, bench):
    (project / ".venv").mkdir()
    (project / ".venv" / "pyvenv.cfg").write_text("home = elsewhere\n", encoding="utf-8")
    with pytest.raises(start.Stop, match=r"was not made by start\.py"):
        start.prepare(project, ())
    assert bench == []
    assert [path.name for path in (project / ".venv").iterdir()] == ["pyvenv.cfg"]


def test_a_failed_installation_shows_the_end_of_the_log(start, project, bench, monkeypatch):
    def fail(command, log, title, environment, folder=None):
        log.write_text("".join(f"line {n}\n" for n in range(100)), encoding="utf-8")
        return 1

    monkeypatch.setattr(start, "run_logged", fail)
    with pytest.raises(start.Stop) as stop:
        start.prepare(project, ())
    assert stop.value.code == 1
    lines = str(stop.value).splitlines()
    assert "line 99" in lines
    assert "line 80" not in lines
    assert lines[-1].endswith(str(project / ".venv" / start.LOG))
    assert start.Stamp.read(project / ".venv") is None


def test_the_old_pip_does_where_there_is_no_newer_one(start, project, bench, monkeypatch):
    def none_newer(command, log, title, environment, folder=None):
        bench.append(command[-1])
        return 1 if command[-1] == "pip" else 0

    monkeypatch.setattr(start, "run_logged", none_newer)
    start.prepare(project, ())
    assert bench == ["venv", "pip", "."]


def test_a_folder_that_cannot_be_written_gets_a_sentence(start, monkeypatch, capsys):
    def refuse(root, extras):
        raise PermissionError(errno.EACCES, "Permission denied", str(root))

    monkeypatch.setattr(start, "prepare", refuse)
    assert start.main([]) == 1
    error = capsys.readouterr().err
    assert "could not be made" in error
    assert "Permission denied" in error


# ---- Running programs


def test_output_goes_to_the_log(start, tmp_path, capsys):
    log = tmp_path / "a b" / "log"
    log.parent.mkdir()
    code = "import os; print(os.getcwd(), os.environ['WRAP'], input() if 0 else ''); exit(3)"
    environment = {**os.environ, "WRAP": "graded"}
    command = [sys.executable, "-c", code]
    assert start.run_logged(command, log, "Working", environment, log.parent) == 3
    assert log.read_text(encoding="utf-8").split(" graded")[0] == str(log.parent)
    assert capsys.readouterr().out.startswith("Working ...\n")


@pytest.fixture
def steps(project):
    """Write little modules that note their name and folder, and exit with a number."""
    for name, code in {"fine": 0, "bad": 3, "worse": 4}.items():
        (project / f"{name}.py").write_text(
            f"import pathlib, sys\n"
            f"with pathlib.Path('ran').open('a') as ran:\n"
            f"    print('{name}', *sys.argv[1:], file=ran)\n"
            f"sys.exit({code})\n",
            encoding="utf-8",
        )
    return project


def test_every_step_runs_and_the_first_failure_counts(start, steps, capsys):
    python = Path(sys.executable)
    code = start.run_steps(python, [("fine", "-q"), ("bad",), ("fine",), ("worse",)], steps)
    assert code == 3
    assert (steps / "ran").read_text().splitlines() == ["fine -q", "bad", "fine", "worse"]
    assert capsys.readouterr().out.splitlines()[-1] == "== failed: bad, worse"


def test_one_step_passes_its_code_on_without_a_word(start, steps, capsys):
    assert start.run_steps(Path(sys.executable), [("worse",)], steps) == 4
    assert start.run_steps(Path(sys.executable), [("fine",)], steps) == 0
    assert capsys.readouterr().out == ""


def test_what_runs_beside_has_ended_when_the_last_step_begins(start, steps, capfd):
    # It waits for the first step, so they do run together, and its own failure is no failure.
    (steps / "slow.py").write_text(
        "import pathlib, sys, time\n"
        "print('unheard')\n"
        "while not pathlib.Path('ran').exists():\n"
        "    time.sleep(0.01)\n"
        "pathlib.Path('slow').write_text('done')\n"
        "sys.exit(7)\n",
        encoding="utf-8",
    )
    (steps / "last.py").write_text(
        "import pathlib\nassert pathlib.Path('slow').read_text() == 'done'\n", encoding="utf-8"
    )
    assert start.run_steps(Path(sys.executable), [("fine",), ("last",)], steps, ("slow",)) == 0
    assert "unheard" not in capfd.readouterr().out


def test_what_runs_beside_ends_with_ctrl_c(start, steps, monkeypatch):
    (steps / "long.py").write_text("import time\ntime.sleep(3600)\n", encoding="utf-8")
    begun = []
    popen = subprocess.Popen

    def note(*arguments, **options):
        begun.append(popen(*arguments, **options))
        return begun[-1]

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(subprocess, "Popen", note)
    monkeypatch.setattr(start, "run_step", interrupted)
    with pytest.raises(KeyboardInterrupt):
        start.run_steps(Path(sys.executable), [("fine",), ("fine",)], steps, ("long",))
    (long,) = begun
    assert long.returncode not in (None, 0)


def test_ctrl_c_ends_with_a_short_line(start, monkeypatch, capsys):
    def interrupted(root, extras):
        raise KeyboardInterrupt

    monkeypatch.setattr(start, "prepare", interrupted)
    assert start.main([]) == 130
    assert capsys.readouterr().out.split() == ["Stopped."]
