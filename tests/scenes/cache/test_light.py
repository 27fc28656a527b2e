"""The kept light is the light, whatever has become of its file."""

import os
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from scenes.cache import light
from scenes.cache.light import kept_light
from scenes.files.state_folder import STATE_VARIABLE
from scenes.light.prefilter import prefiltered

IOR = 1.5


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path))
    return tmp_path / "cache" / "light"


def radiance(seed: int = 1) -> NDArray[np.float32]:
    return np.random.default_rng(seed).random((16, 32, 3), np.float32)


def forbid_blurring(monkeypatch: pytest.MonkeyPatch) -> None:
    def blurred(*_: object) -> None:
        raise AssertionError("the light is blurred anew")

    monkeypatch.setattr(light, "prefiltered", blurred)


def test_it_is_blurred_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = prefiltered(radiance(), IOR)
    np.testing.assert_array_equal(kept_light(radiance(), IOR), expected)
    forbid_blurring(monkeypatch)
    np.testing.assert_array_equal(kept_light(radiance(), IOR), expected)
    assert len(list(folder.iterdir())) == 1


@pytest.mark.parametrize("other", ["light", "finish", "program"])
def test_what_it_depends_on_is_in_its_name(
    folder: Path, monkeypatch: pytest.MonkeyPatch, other: str
) -> None:
    kept_light(radiance(), IOR)
    if other == "program":
        monkeypatch.setattr(light, "_program", lambda: b"another way to blur")
    given = radiance(2 if other == "light" else 1), 1.6 if other == "finish" else IOR
    np.testing.assert_array_equal(kept_light(*given), prefiltered(*given))
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("damage", ["cut short", "changed", "empty"])
def test_a_damaged_file_is_replaced(
    folder: Path, monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    expected = kept_light(radiance(), IOR)
    (file,) = folder.iterdir()
    whole = file.read_bytes()
    middle = len(whole) // 2
    changed = whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :]
    file.write_bytes({"cut short": whole[:-1], "changed": changed, "empty": b""}[damage])
    np.testing.assert_array_equal(kept_light(radiance(), IOR), expected)
    assert file.read_bytes() == whole
    forbid_blurring(monkeypatch)
    np.testing.assert_array_equal(kept_light(radiance(), IOR), expected)


def test_files_used_longest_ago_go_first(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept_light(radiance(), IOR)
    (first,) = folder.iterdir()
    size = first.stat().st_size
    unfinished = folder / "tmp_of_a_killed_program"
    unfinished.write_bytes(bytes(size))
    kept_light(radiance(2), IOR)
    (second,) = set(folder.iterdir()) - {first, unfinished}
    for file, seconds in {unfinished: 1e9, second: 1.1e9, first: 1.2e9}.items():
        os.utime(file, (seconds, seconds))
    monkeypatch.setattr(light, "MOST_BYTES", 2.5 * size)
    kept_light(radiance(3), IOR)
    left = set(folder.iterdir())
    assert first in left
    assert not left & {second, unfinished}
    assert len(left) == 2


def test_without_a_folder_it_is_blurred(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "file"))
    np.testing.assert_array_equal(kept_light(radiance(), IOR), prefiltered(radiance(), IOR))
