"""Names of devices, as Windows documents them."""

import pytest

from scenes.files.device_names import is_device_name


@pytest.mark.parametrize(
    "name",
    ["CON", "prn.txt", "Aux.tar.gz", "nul:", "NUL .png", "COM1.png", "lpt9", "COM¹.png", "Lpt³ .x",
     "com².", "CONIN$", "conout$.log"],
)  # fmt: skip
def test_devices(name: str) -> None:
    assert is_device_name(name)


@pytest.mark.parametrize(
    "name",
    ["console.png", "com.png", "COM10.png", "com⁴.png", "a.con", "my nul.png", " aux.png", ""],
)
def test_files(name: str) -> None:
    assert not is_device_name(name)
