"""Sizes of files, in words."""

from pathlib import Path

from render.common.file_size import megabytes, written_size


def test_megabytes() -> None:
    assert [megabytes(count) for count in (1_940_000, 390_000, 72_400)] == [
        "1.9 MB",
        "0.39 MB",
        "0.072 MB",
    ]


def test_a_folder_weighs_what_its_files_weigh(tmp_path: Path) -> None:
    for name in ("0001.png", "0002.png"):
        (tmp_path / name).write_bytes(bytes(150_000))
    assert written_size(tmp_path) == "0.3 MB"
    assert written_size(tmp_path / "0001.png") == "0.15 MB"
