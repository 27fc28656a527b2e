"""The finish as a material."""

import dataclasses

import pytest

from materials.finish import FINISH, FinishMaterial
from materials.problems import MaterialProblem


def test_index_is_that_of_an_epoxy() -> None:
    # Clear finishes lie about 1.50 to 1.57 (from memory).
    assert 1.50 <= FINISH.ior <= 1.57


def test_is_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        FINISH.ior = 2.0  # type: ignore[misc]


@pytest.mark.parametrize("field", [f.name for f in dataclasses.fields(FinishMaterial)])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_finish_is_refused(field: str, value: float) -> None:
    with pytest.raises(MaterialProblem, match=f"^finish {field} is {value}, but should be"):
        FinishMaterial(**{field: value})


@pytest.mark.parametrize("ior", [0.9, 3.0])
def test_impossible_index_is_refused(ior: float) -> None:
    with pytest.raises(MaterialProblem, match=r"from 1 to 2\.5"):
        FinishMaterial(ior=ior)
