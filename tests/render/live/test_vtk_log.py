"""VTK's errors become exceptions, everything else is kept to itself."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from vtkmodules.vtkFiltersSources import vtkSphereSource
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

from render.common.display import has_display
from render.common.problems import DrawingProblem
from render.live.vtk_log import errors_caught, quieten
from render.live.window import Window

ROOT = Path(__file__).resolve().parents[3]


def drawn_with(shading: str) -> None:
    """Draw a ball with a piece of shader code of our own."""
    quieten()
    source, mapper, actor = vtkSphereSource(), vtkPolyDataMapper(), vtkActor()
    mapper.SetInputConnection(source.GetOutputPort())
    actor.SetMapper(mapper)
    actor.GetShaderProperty().AddFragmentShaderReplacement(
        "//VTK::Light::Impl", True, shading, False
    )
    with errors_caught() as errors, Window((32, 32)) as window:
        window.add(actor)
        window.renderer.ResetCamera()
        window.picture()
        errors.check()


@pytest.mark.render
def test_a_shader_that_does_not_compile_is_an_error() -> None:
    drawn_with("//VTK::Light::Impl\n")
    with pytest.raises(DrawingProblem, match=r"could not be drawn: .*error") as caught:
        drawn_with("this is not a shader;\n")
    assert "\n" not in str(caught.value)


def test_warnings_are_not_errors() -> None:
    from vtkmodules.vtkCommonCore import vtkOutputWindow

    with errors_caught() as errors:
        vtkOutputWindow.GetInstance().DisplayWarningText("nothing to worry about")
        errors.check()


def test_an_error_at_the_very_end_is_raised_too() -> None:
    from vtkmodules.vtkCommonCore import vtkOutputWindow

    with pytest.raises(DrawingProblem, match="out of luck"), errors_caught():
        vtkOutputWindow.GetInstance().DisplayErrorText("out of luck")


def test_the_watch_ends() -> None:
    from vtkmodules.vtkCommonCore import vtkOutputWindow

    before = vtkOutputWindow.GetInstance()
    with errors_caught():
        assert vtkOutputWindow.GetInstance() is not before
    assert vtkOutputWindow.GetInstance() is before


@pytest.mark.render
def test_nothing_but_the_answer_reaches_the_terminal(tmp_path: Path) -> None:
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DISPLAY", "WAYLAND_DISPLAY", "VTK_DEFAULT_OPENGL_WINDOW")
    }
    run = subprocess.run(
        [
            sys.executable,
            "-m",
            "render",
            "still",
            "sample:full-mesh",
            "-o",
            str(tmp_path / "a.png"),
            "--size",
            "64x36",
            "--detail",
            "draft",
        ],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert re.sub(r"^Takes about .* here.*\.\n", "", run.stderr) == ""
    assert run.stdout == f"{tmp_path / 'a.png'}: 64x36\n"


@pytest.mark.parametrize(
    ("platform", "environment", "there"),
    [
        ("win32", {}, True),
        ("darwin", {}, True),
        ("linux", {}, False),
        ("linux", {"DISPLAY": ""}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
    ],
)
def test_display(platform: str, environment: dict[str, str], there: bool) -> None:
    assert has_display(platform, environment) is there
