from collections.abc import Iterator

import pytest

from geometry.layers import taut


@pytest.fixture(scope="module", params=["compiled walk", "sweeps of NumPy"])
def each_way(request: pytest.FixtureRequest) -> Iterator[None]:
    """Run a module's tests by the compiled walk, where it is built, and without it."""
    with pytest.MonkeyPatch.context() as patch:
        if request.param == "sweeps of NumPy":
            patch.setattr(taut, "compiled_walk", None)
        elif taut.compiled_walk is None:
            pytest.skip("geometry/layers/taut_walk.c is not built: no C compiler when installed")
        yield
