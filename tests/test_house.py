"""The house keeps its shape: imports run one way, rooms and files stay small and say what they are.

Nothing here is imported: the source is read as it is written, so an import inside a function or
behind ``TYPE_CHECKING`` counts like any other.
"""

import ast
import os
import subprocess
import sys
from collections import Counter
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
MOST_FILES = 25
SOURCES = {".py", ".js", ".css", ".glsl"}
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


# ---- Rooms: folders form no circle, are not crowded, and say what they are for


def imported_files(root: Path, path: Path) -> Iterator[tuple[int, Path]]:
    """Yield line and file of every module of the four packages that a file imports."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = path.relative_to(root).parts[: -node.level] if node.level else ()
            base = ".".join((*above, *([node.module] if node.module else [])))
            names = [f"{base}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call):
            names = [imported_by_call(node) or ""]
        else:
            continue
        for name in names:
            parts = name.split(".")
            # The longest part of the name that is a module: what follows is defined in it.
            for count in range(len(parts), 0, -1):
                module = root.joinpath(*parts[:count])
                file = next(
                    (
                        one
                        for one in (module.with_suffix(".py"), module / "__init__.py")
                        if one.is_file()
                    ),
                    None,
                )
                if file is not None and parts[0] in MAY_IMPORT:
                    yield node.lineno, file
                    break


def folder_arrows(root: Path) -> dict[str, dict[str, str]]:
    """Draw the arrows between folders: from, to, and one line of code that draws it."""
    arrows: dict[str, dict[str, str]] = {}
    for path in package_files(root):
        here = path.parent.relative_to(root).as_posix()
        for line, file in imported_files(root, path):
            there = file.parent.relative_to(root).as_posix()
            if there != here:
                where = f"{path.relative_to(root).as_posix()}:{line}"
                arrows.setdefault(here, {}).setdefault(there, where)
    return arrows


def arrows_back(root: Path) -> list[str]:
    """List the arrows that lie on a circle of folders, with a line of code for each."""
    arrows = folder_arrows(root)

    def reached(start: str) -> set[str]:
        found: set[str] = set()
        waiting = [start]
        while waiting:
            new = set(arrows.get(waiting.pop(), ())) - found
            found |= new
            waiting += new
        return found

    below = {folder: reached(folder) for folder in arrows}
    return [
        f"{where}: {here} -> {there}, which leads back"
        for here, targets in sorted(arrows.items())
        for there, where in sorted(targets.items())
        if here in below.get(there, ())
    ]


def source_files(root: Path) -> list[Path]:
    """List every file of the four packages that a person writes code in."""
    return sorted(
        path
        for package in MAY_IMPORT
        for path in (root / package).rglob("*")
        if path.suffix in SOURCES and path.is_file()
    )


def crowded(root: Path) -> list[str]:
    """Say which files are too long and which folders hold too many, tests' folders too."""
    problems = []
    for path in source_files(root):
        length = len(path.read_text(encoding="utf-8").splitlines())
        if length > MOST_LINES:
            problems.append(f"{path.relative_to(root).as_posix()}: {length} lines")
    folders = Counter(path.parent for path in source_files(root))
    folders.update(path.parent for path in (root / "tests").rglob("*.py"))
    for folder, files in folders.items():
        if files > MOST_FILES:
            problems.append(f"{folder.relative_to(root).as_posix()}: {files} files")
    return sorted(problems)


def without_sentence(root: Path) -> list[str]:
    """List folders of Python whose ``__init__`` is not one sentence and nothing else."""
    silent = []
    for folder in sorted({path.parent for path in package_files(root)}):
        file = folder / "__init__.py"
        body = ast.parse(file.read_text(encoding="utf-8")).body if file.is_file() else []
        match body:
            case [ast.Expr(value=ast.Constant(value=str(text)))]:
                sentence = " ".join(text.split())
            case _:
                sentence = ""
        if not sentence.endswith(".") or ". " in sentence:
            silent.append(folder.relative_to(root).as_posix())
    return silent


def test_folders_form_no_circle():
    assert arrows_back(ROOT) == []
    # The arrows are really drawn: every layer's model is below the document, which is below files.
    arrows = folder_arrows(ROOT)
    assert "scenes/kinds/cover" in arrows["scenes/design"]
    assert "scenes/design" in arrows["scenes/files"]


# ---- Kinds of layer: one folder each, and nothing outside names one

REGISTRY = "scenes/design/layers.py"
ROLES = "scenes/parts/layer.py"
"""Some kinds are called as what they do in the stack is."""


def kind_folders(root: Path) -> list[Path]:
    """List the folders that are a kind of layer."""
    return sorted(file.parent for file in (root / "scenes" / "kinds").glob("*/kind.py"))


def kind_names(folder: Path) -> set[str]:
    """Give the name that a kind's model declares, ``kind: Literal["…"]``."""
    names = set()
    for node in ast.walk(ast.parse((folder / "model.py").read_text(encoding="utf-8"))):
        match node:
            case ast.ClassDef(bases=[ast.Name(id=base), *_]) if base.endswith("Model"):
                for line in node.body:
                    match line:
                        case ast.AnnAssign(
                            target=ast.Name(id="kind"),
                            annotation=ast.Subscript(slice=ast.Constant(value=str(name))),
                        ):
                            names.add(name)
    return names


def named_kinds(root: Path) -> list[str]:
    """Say where a file outside a kind's own folder imports from it or gives its name.

    Words in ``__all__`` and the first words of a table or command are names of other things.
    """
    problems = []
    folders = kind_folders(root)
    names = {name: folder for folder in folders for name in kind_names(folder)}
    for path in package_files(root):
        where = path.relative_to(root).as_posix()
        for line, file in imported_files(root, path):
            if file.parent in folders and path.parent != file.parent and where != REGISTRY:
                problems.append(f"{where}:{line}: imports {file.relative_to(root).as_posix()}")
        if where == ROLES:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        exported = {
            id(one)
            for node in tree.body
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
            for one in ast.walk(node)
        }
        for node in ast.walk(tree):
            match node:
                case ast.Constant(value=str(word)) if word in names and id(node) not in exported:
                    if path.parent != names[word]:
                        problems.append(f"{where}:{node.lineno}: names {word}")
    return problems


def test_nothing_outside_names_a_kind():
    assert len(kind_folders(ROOT)) >= 10
    assert all(len(kind_names(folder)) == 1 for folder in kind_folders(ROOT))
    assert named_kinds(ROOT) == []


def test_no_file_and_no_folder_is_crowded():
    assert {path.suffix for path in source_files(ROOT)} == SOURCES
    assert crowded(ROOT) == []


def test_every_folder_says_what_it_is_for():
    assert without_sentence(ROOT) == []


FEW = {"bool", "type", "type[Part]", "Units"}
"""Types of which a program has only so many values."""


def endless_caches(root: Path) -> list[str]:
    """Functions that remember every answer, for arguments of which there is no end."""
    found = []
    for path in (one for package in MAY_IMPORT for one in (root / package).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.FunctionDef):
                continue
            marks = {ast.unparse(mark).rpartition(".")[2] for mark in node.decorator_list}
            given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            if marks & {"cache", "lru_cache(maxsize=None)", "lru_cache(None)"} and any(
                one.annotation is None or ast.unparse(one.annotation) not in FEW for one in given
            ):
                found.append(f"{path.relative_to(root)}: {node.name}")
    return found


def test_no_cache_grows_without_end():
    assert endless_caches(ROOT) == []


@pytest.mark.parametrize("mark", ["@cache", "@functools.cache", "@lru_cache(maxsize=None)"])
def test_a_planted_endless_cache_is_seen(tmp_path, mark):
    plant(tmp_path, {"scenes/words.py": f"{mark}\ndef width(text: str) -> float:\n    ...\n"})
    assert endless_caches(tmp_path) == ["scenes/words.py: width"]


def plant(root: Path, files: dict[str, str]) -> None:
    """Write a small house, each folder with a sentence of its own."""
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        for folder in path.relative_to(root).parents:
            if folder.parts and folder.parts[0] in MAY_IMPORT:
                (root / folder / "__init__.py").write_text('"""A room."""\n', encoding="utf-8")


KIND = {
    "scenes/kinds/frill/model.py": 'class Frill(LayerModel):\n    kind: Literal["thread frill"]\n',
    "scenes/kinds/frill/kind.py": "from scenes.kinds.frill.model import Frill\n",
    "scenes/design/layers.py": "from scenes.kinds.frill.kind import KIND\n",
}


@pytest.mark.parametrize(
    ("file", "source", "complaint"),
    [
        (
            "scenes/bench/planted.py",
            "from scenes.kinds.frill.model import Frill\n",
            "imports scenes/kinds/frill/model.py",
        ),
        (
            "scenes/kinds/ruffle/planted.py",
            "def f():\n    import scenes.kinds.frill.model\n",
            "imports scenes/kinds/frill/model.py",
        ),
        ("render/page/planted.py", 'if kind == "thread frill":\n', "names thread frill"),
        ("scenes/kinds/planted.py", 'X = {"thread frill": 1}\n', "names thread frill"),
    ],
)
def test_a_kind_that_is_named_outside_is_seen(tmp_path, file, source, complaint):
    plant(tmp_path, KIND)
    assert named_kinds(tmp_path) == []
    body = "    pass\n" if source.rstrip().endswith(":") else ""
    plant(tmp_path, {file: source + body})
    line = source.count("\n")
    assert named_kinds(tmp_path) == [f"{file}:{line}: {complaint}"]


LOW = {"scenes/low/base.py": "class Base:\n    pass\n"}
HIGH = {"scenes/high/top.py": "from scenes.low.base import Base\n"}


def test_a_house_without_fault_passes(tmp_path):
    plant(tmp_path, {**LOW, **HIGH, "scenes/low/look.css": "p {}\n" * MOST_LINES})
    assert folder_arrows(tmp_path) == {"scenes/high": {"scenes/low": "scenes/high/top.py:1"}}
    assert arrows_back(tmp_path) == []
    assert crowded(tmp_path) == []
    assert without_sentence(tmp_path) == []


@pytest.mark.parametrize(
    "source",
    [
        "from scenes.high.top import Top\n",
        "from scenes.high import top\n",
        "import scenes.high.top\n",
        "if TYPE_CHECKING:\n    from scenes.high.top import Top\n",
        "def f():\n    from ..high.top import Top\n",
        "importlib.import_module('scenes.high.top')\n",
    ],
)
def test_a_planted_arrow_back_is_seen(tmp_path, source):
    plant(tmp_path, {**LOW, **HIGH, "scenes/low/wrong.py": source})
    line = source.count("\n")
    assert arrows_back(tmp_path) == [
        "scenes/high/top.py:1: scenes/high -> scenes/low, which leads back",
        f"scenes/low/wrong.py:{line}: scenes/low -> scenes/high, which leads back",
    ]


def test_a_planted_circle_of_three_is_seen(tmp_path):
    plant(
        tmp_path,
        {
            "scenes/a/one.py": "from scenes.b.two import x\n",
            "scenes/b/two.py": "from scenes.b.c.three import x\n",
            "scenes/b/c/three.py": "from scenes.a import one\n",
            "scenes/d/four.py": "from scenes.a import one\n",
        },
    )
    assert [one.partition(": ")[2] for one in arrows_back(tmp_path)] == [
        "scenes/a -> scenes/b, which leads back",
        "scenes/b -> scenes/b/c, which leads back",
        "scenes/b/c -> scenes/a, which leads back",
    ]


@pytest.mark.parametrize("suffix", sorted(SOURCES))
def test_a_planted_long_file_is_seen(tmp_path, suffix):
    plant(tmp_path, {**LOW, f"scenes/low/long{suffix}": "\n" * (MOST_LINES + 1)})
    assert crowded(tmp_path) == [f"scenes/low/long{suffix}: {MOST_LINES + 1} lines"]


def test_a_planted_crowd_is_seen(tmp_path):
    crowd = {f"render/page/part{number}.js": "" for number in range(MOST_FILES)}
    tests = {f"tests/render/test_{number}.py": "" for number in range(MOST_FILES + 1)}
    plant(tmp_path, {**crowd, "render/page/one.py": "", **tests})
    # With the folder's own __init__.
    assert crowded(tmp_path) == [
        f"render/page: {MOST_FILES + 2} files",
        f"tests/render: {MOST_FILES + 1} files",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "",
        '"""No full stop"""\n',
        '"""Two. Sentences."""\n',
        '"""A room."""\n\nfrom x import y\n',
        None,
    ],
)
def test_a_planted_folder_without_its_sentence_is_seen(tmp_path, text):
    plant(tmp_path, LOW)
    file = tmp_path / "scenes/low/__init__.py"
    if text is None:
        file.unlink()
    else:
        file.write_text(text, encoding="utf-8")
    assert without_sentence(tmp_path) == ["scenes/low"]


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
