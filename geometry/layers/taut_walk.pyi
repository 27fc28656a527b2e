from numpy import bool_, float64
from numpy.typing import NDArray

def stretch(
    path: NDArray[float64],
    held: NDArray[bool_] | None,
    sine: NDArray[float64],
    slack: float,
    closed: bool,
    /,
) -> None: ...
