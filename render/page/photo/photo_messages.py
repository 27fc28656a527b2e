"""What the page and the photo worker send each other.

The page sends what is wanted now: one request for each client that waits for a photograph, in one
tuple, the owner's first. Only the newest tuple counts.
"""

from dataclasses import dataclass

from render.request.subject import Size, Subject

__all__ = ["PhotoPicture", "PhotoProblem", "PhotoRequest", "PhotoStep"]


@dataclass(frozen=True, slots=True)
class PhotoRequest:
    """A photograph of what a client sees.

    Parameters
    ----------
    number : int
        Of the photograph, among those of all clients.
    subject : Subject
        The open design with the light, the camera and the turn of the client's view.
    size : (int, int)
        Width and height, pixels.
    paths : int
        Paths through each pixel of the rod.
    stopped : bool
        Whether it is to end with the paths that it has.
    """

    number: int
    subject: Subject
    size: Size
    paths: int
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class PhotoStep:
    """What is being done before the first pass.

    Parameters
    ----------
    number : int
        Of the photograph.
    words : str
    """

    number: int
    words: str


@dataclass(frozen=True, slots=True)
class PhotoPicture:
    """A photograph as far as it has come.

    Parameters
    ----------
    number : int
        Of the photograph.
    image : bytes
        A PNG file with the design's title and hash, if it is finished; otherwise a JPEG file.
    share : float
        Share of the work that is done, 0 to 1.
    paths : int
        Paths through each pixel of the rod so far.
    left : float
        Seconds that are left.
    finished : bool
    denoised : bool
    maker : str
        What traces the paths, such as ``GPU``.
    memory_mb : float, optional
        Memory of the process, megabytes; None where that is not known.
    """

    number: int
    image: bytes
    share: float
    paths: int
    left: float
    finished: bool
    denoised: bool
    maker: str
    memory_mb: float | None = None


@dataclass(frozen=True, slots=True)
class PhotoProblem:
    """Reason why there is no photograph.

    Parameters
    ----------
    number : int
        Of the photograph.
    sentence : str
    """

    number: int
    sentence: str
