"""The shader text can be read, and is GLSL that a browser's WebGL2 takes as it is."""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from render.live.shading import FILES as FILES_OF
from render.live.shading import SHADED, fragment_text

FOLDER = Path(__file__).resolve().parents[3] / "render" / "live" / "shaders"
FILES = sorted(FOLDER.glob("*.glsl"))

MOST_LINES = 200
MOST_LINES_OF_A_FUNCTION = 40
UNNAMED = {0.0, 0.5, 1.0, 2.0}
"""Numbers that speak for themselves; every other one has a name."""

NUMBER = re.compile(r"(?<![\w.])(?:\d+\.\d*|\.\d+|\d+(?=[eE]))(?:[eE][-+]?\d+)?")
CONSTANT = re.compile(r"const \w+ [A-Z][A-Z0-9_]* = [^;]*;")
FUNCTION = re.compile(r"\w+ [a-z]\w*\([^;{]*\)\s*\{")
STRUCT = re.compile(r"struct [A-Z]\w* \{")


@dataclass(frozen=True)
class Block:
    """What stands at the top level of a file: up to a semicolon, or a pair of braces."""

    text: str
    comment: str
    """The comment that stands right above it."""


def blocks_of(source: str) -> list[Block]:
    """Cut a file into what it declares."""
    found: list[Block] = []
    comment: list[str] = []
    code: list[str] = []
    for line in source.splitlines():
        bare = re.sub(r"//.*", "", line).rstrip()
        if not code and not bare:
            # An empty line parts a comment from what follows.
            comment = [*comment, line] if line.strip() else []
            continue
        code.append(bare)
        text = "\n".join(code)
        if text.count("{") == text.count("}") and text.endswith((";", "}")):
            found.append(Block(text, "\n".join(comment)))
            # Constants without an empty line between them share a comment.
            comment, code = (comment if CONSTANT.fullmatch(text) else []), []
    assert not code, f"this does not end: {code[0]}"
    return found


def faults_of(source: str) -> list[str]:
    """Say what a reader of a file would miss."""
    faults = []
    for block in blocks_of(source):
        head = block.text.partition("\n")[0]
        if CONSTANT.fullmatch(block.text):
            if not block.comment:
                faults.append(f"a constant without a reason: {head}")
            continue
        if "{" in block.text:
            if FUNCTION.match(block.text):
                lines = block.text.count("\n") + 1
                if lines > MOST_LINES_OF_A_FUNCTION:
                    faults.append(f"a function of {lines} lines: {head}")
            elif not STRUCT.match(block.text):
                faults.append(f"neither a function nor a struct: {head}")
            if not block.comment:
                faults.append(f"no comment above: {head}")
        numbers = {float(number) for number in NUMBER.findall(block.text)} - UNNAMED
        faults += [f"a number without a name: {number:g}" for number in sorted(numbers)]
    return faults


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_functions_are_short_and_said_and_numbers_named(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert faults_of(source) == []
    assert len(source.splitlines()) <= MOST_LINES


GOOD = "// Half of it.\nfloat half_(float x)\n{\n  return 0.5 * x;\n}\n"


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        (GOOD, None),
        ("in vec3 axisVS;\n", None),
        ("// Both.\nstruct Pair {\n  float x;\n  float y;\n};\n", None),
        ("// Why.\nconst float FIRST = 0.3;\nconst vec2 SECOND = vec2(0.1, 4e-3);\n", None),
        (GOOD.partition("\n")[2], "no comment above: float half_(float x)"),
        (GOOD.replace("it.\n", "it.\n\n"), "no comment above: float half_(float x)"),
        (GOOD.replace("0.5", "0.35"), "a number without a name: 0.35"),
        (GOOD.replace("0.5", "1e-3"), "a number without a name: 0.001"),
        (GOOD.replace("{\n", "{\n" + 36 * "  x += 1.0;\n"), None),
        (GOOD.replace("{\n", "{\n" + 37 * "  x += 1.0;\n"), "a function of 41 lines: "),
        ("const float FIRST = 0.3;\n", "a constant without a reason: const float FIRST = 0.3;"),
        ("// All.\n  {\n    float x = 1.0;\n  }\n", "neither a function nor a struct:   {"),
    ],
)
def test_a_planted_fault_is_seen(source: str, fault: str | None) -> None:
    faults = faults_of(source)
    assert len(faults) == (fault is not None)
    assert all(told.startswith(str(fault)) for told in faults)


def test_every_file_is_used() -> None:
    used = "".join(map(fragment_text, FILES_OF))
    assert [path.stem for path in FILES if path.read_text(encoding="utf-8") not in used] == []


# ---- WebGL2

FIRST = """#version 300 es
precision highp float;
precision highp int;
precision highp sampler2D;
"""

DECLARED_BY_VTK = """
uniform int cameraParallel, preview, taps;
uniform mat3 lightFromView;
uniform sampler2D lightMap, bodyMap, cardMap, groundMap, mirrorMap, outsideMap, rowsMap, slopesMap;
uniform sampler2D threadMap;
uniform vec3 groundDark, groundLight;
uniform vec2 mapSize, mapsPerMm, pictureCorner;
uniform float cardBelow, finishIor, metallicOf, roughnessOf, samplesAcross;
in vec2 tcoordVCVSOutput;
in vec3 normalVCVSOutput;
in vec4 vertexVC;
out vec4 fragOutput0;
"""

COMPILE = """text => {
    const gl = document.createElement("canvas").getContext("webgl2");
    const shader = gl.createShader(gl.FRAGMENT_SHADER);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    return gl.getShaderParameter(shader, gl.COMPILE_STATUS) ? "" : gl.getShaderInfoLog(shader);
}"""


@pytest.mark.browser
def test_the_text_compiles_as_webgl2(browser: Browser) -> None:
    page = browser.new_page()
    try:

        def complaint(kind: str, more: str = "") -> str:
            main = f"void main() {{ {SHADED} }}"
            text = FIRST + DECLARED_BY_VTK + fragment_text(kind) + more + main
            return str(page.evaluate(COMPILE, text))

        assert {kind: complaint(kind) for kind in FILES_OF} == dict.fromkeys(FILES_OF, "")
        # Desktop OpenGL takes this one.
        assert "wrong operand types" in complaint("glow", "float two(float x) { return 2 * x; }\n")
    finally:
        page.close()
