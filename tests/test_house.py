"""The house keeps its shape: imports run down, only ``render`` names a renderer, files stay small.

Nothing here is imported: the source is read as it is written, so an import inside a function or
behind ``TYPE_CHECKING`` counts like any other.
"""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

MAY_IMPORT = {
    "geometry": {"geometry"},
    "materials": {"materials"},
    "scenes": {"scenes", "geometry", "materials"},
    "render": {"render", "scenes", "geometry", "materials"},
}
RENDERERS = {"mitsuba", "pyvista", "trame", "vtk", "vtkmodules"}
MOST_LINES = 600
TOP_LEVEL_FILES = [
    ".ci/run",
    ".gitignore",
    ".pre-commit-config.yaml",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "pyproject.toml",
    "start.py",
]
HIDDEN = "<a module named only when it runs>"


def package_files(root: Path) -> list[Path]:
    """List every Python file of the four packages."""
    return sorted(path for package in MAY_IMPORT for path in (root / package).rglob("*.py"))


def imported_by_call(call: ast.Call) -> str | None:
    """Give the module that ``import_module(...)`` or ``__import__(...)`` asks for, if it is one."""
    name = ast.unparse(call.func).rpartition(".")[2]
    if name not in ("import_module", "__import__"):
        return None
    named = [word.value for word in call.keywords if word.arg == "name"]
    match [*call.args, *named]:
        case [ast.Constant(value=str(module)), *_]:
            return module
    return HIDDEN


def imported_modules(source: str, package: str) -> Iterator[tuple[int, str]]:
    """Yield line and full name of every module that a source file of ``package`` imports."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            # A relative import cannot leave its top-level package.
            yield node.lineno, package if node.level else str(node.module)
        elif isinstance(node, ast.Call):
            module = imported_by_call(node)
            if module is not None:
                yield node.lineno, package if module.startswith(".") else module


def wrong_arrows(root: Path) -> list[str]:
    """Say where a package imports one above it, or a renderer without being ``render``."""
    problems = []
    for path in package_files(root):
        package = path.relative_to(root).parts[0]
        for line, module in imported_modules(path.read_text(encoding="utf-8"), package):
            top = module.partition(".")[0]
            where = f"{path.relative_to(root).as_posix()}:{line}"
            if top in MAY_IMPORT and top not in MAY_IMPORT[package]:
                problems.append(f"{where}: {package} must not import {module}")
            elif package != "render" and (
                top in RENDERERS or top.startswith("trame_") or module == HIDDEN
            ):
                problems.append(f"{where}: only render may import {module}")
    return problems


def test_imports_run_down():
    assert {path.relative_to(ROOT).parts[0] for path in package_files(ROOT)} == set(MAY_IMPORT)
    assert wrong_arrows(ROOT) == []


@pytest.mark.parametrize(
    ("package", "source", "complaint"),
    [
        ("geometry", "import materials.colour\n", "materials.colour"),
        ("geometry", "from scenes import stage\n", "scenes"),
        ("materials", "def f():\n    from geometry.grid import Grid\n", "geometry.grid"),
        ("scenes", "import os, render.live as live\n", "render.live"),
        ("scenes", "if TYPE_CHECKING:\n    import pyvista as pv\n", "pyvista"),
        ("scenes", "def f():\n    from vtkmodules.util import misc\n", "vtkmodules.util"),
        ("materials", "importlib.import_module('mitsuba')\n", "mitsuba"),
        ("materials", "importlib.import_module(name='vtk')\n", "vtk"),
        ("geometry", "__import__('trame.app')\n", "trame.app"),
        ("scenes", "from importlib import import_module as _\nimport trame_vtk\n", "trame_vtk"),
        ("geometry", "import_module('py' + 'vista')\n", HIDDEN),
    ],
)
def test_a_planted_wrong_arrow_is_seen(tmp_path, package, source, complaint):
    folder = tmp_path / package / "deep"
    folder.mkdir(parents=True)
    (folder / "planted.py").write_text(source, encoding="utf-8")
    problems = wrong_arrows(tmp_path)
    assert len(problems) == 1
    assert problems[0].startswith(f"{package}/deep/planted.py:{source.count(chr(10))}:")
    assert problems[0].endswith(f" import {complaint}")


def test_allowed_arrows_are_left_alone(tmp_path):
    for package, source in {
        "geometry": "import numpy\nfrom geometry import grid\nfrom . import blank\n",
        "scenes": "import geometry.mesh\nfrom materials.shelf import Shelf\nimport vtkish\n",
        "render": "import pyvista\nfrom scenes import stage\nimport_module(chosen)\n",
    }.items():
        (tmp_path / package).mkdir()
        (tmp_path / package / "fine.py").write_text(source, encoding="utf-8")
    assert wrong_arrows(tmp_path) == []


def test_every_module_says_what_it_offers():
    lacking = []
    for path in package_files(ROOT):
        if path.name in ("__init__.py", "__main__.py"):
            continue
        assigned = {
            target.id
            for node in ast.parse(path.read_text(encoding="utf-8")).body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        if "__all__" not in assigned:
            lacking.append(path.relative_to(ROOT).as_posix())
    assert lacking == []


def test_no_file_is_too_long():
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in package_files(ROOT)
    }
    assert {name: length for name, length in lengths.items() if length > MOST_LINES} == {}


@pytest.mark.parametrize("name", TOP_LEVEL_FILES)
def test_top_level_file_is_there(name):
    assert (ROOT / name).stat().st_size > 0


# ---- tests/conftest.py: a picture that was not drawn, or drawn with an error, is a failure in CI

DRAWS = "import pytest\n@pytest.mark.render\ndef test_draws():\n    {body}\n"
VTK_ERROR = (
    "from vtkmodules.vtkFiltersCore import vtkPolyDataNormals\n    vtkPolyDataNormals().Update()"
)


def run_pytest(folder: Path, source: str, ci: str, *arguments: str) -> tuple[int, str]:
    """Run pytest on one test file with this project's conftest; give exit code and output."""
    (folder / "tests" / "render").mkdir(parents=True)
    (folder / "tests" / "conftest.py").write_bytes((ROOT / "tests" / "conftest.py").read_bytes())
    (folder / "tests" / "render" / "test_one.py").write_text(source, encoding="utf-8")
    (folder / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
    result = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *arguments],
        cwd=folder,
        env={**os.environ, "CI": ci},
        capture_output=True,
        text=True,
        check=False,
    )
    return result.returncode, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("source", "ci", "arguments", "code", "sentence"),
    [
        (DRAWS.format(body="pass"), "true", (), 0, "1 passed"),
        (DRAWS.format(body="pytest.skip('no GL')"), "true", (), 1, "render tests were skipped"),
        (DRAWS.format(body="pytest.skip('no GL')"), "", (), 0, "1 skipped"),
        (DRAWS.format(body="pytest.xfail('known')"), "true", (), 0, "1 xfailed"),
        ("import pytest\npytest.importorskip('no_such')", "true", (), 1, "tests were skipped"),
        ("def test_plain():\n    pass\n", "true", (), 1, "without one render test"),
        ("def test_plain():\n    pass\n", "true", ("-k", "plain"), 0, "1 passed"),
        ("def test_plain():\n    pass\n", "true", ("tests/render",), 0, "1 passed"),
        (DRAWS.format(body=VTK_ERROR), "", (), 1, "VTK reported"),
    ],
    ids=[
        "drawn",
        "skipped in CI",
        "skipped at home",
        "expected failure",
        "file skipped in CI",
        "none in CI",
        "chosen by name",
        "chosen by path",
        "VTK error",
    ],
)
def test_ci_lets_no_picture_go_undrawn(tmp_path, source, ci, arguments, code, sentence):
    returned, output = run_pytest(tmp_path, source, ci, *arguments)
    assert returned == code, output
    assert sentence in output
