"""A window of VTK that nobody sees, to draw in and to read pictures from.

Only the modules of VTK that draw are imported: all of them take three times as long to load.
"""

import numpy as np
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  # makes the OpenGL classes of what follows
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkRenderingCore import (
    vtkCamera,
    vtkLight,
    vtkProp,
    vtkRenderer,
    vtkRenderWindow,
    vtkTexture,
    vtkWindowToImageFilter,
)

from render.common.closing import Closing

__all__ = ["Window"]

_EDGE_SAMPLES = 8
"""Samples of a pixel for which an outline is tested, where multisampling is on."""


class Window(Closing):
    """An off-screen window with one renderer.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.
    """

    def __init__(self, size: tuple[int, int]) -> None:
        self.renderer = vtkRenderer()
        self.renderer.AutomaticLightCreationOff()
        # It leaves out what it thinks outside the picture, and takes a band for the middle of it.
        self.renderer.GetCullers().RemoveAllItems()
        # Our shading reads no light of VTK's. Without one VTK declares neither position nor normal.
        light = vtkLight()
        light.SetLightTypeToHeadlight()
        self.renderer.AddLight(light)
        self._window = vtkRenderWindow()
        self._window.SetMultiSamples(_EDGE_SAMPLES)
        self._window.SetOffScreenRendering(1)
        if hasattr(self._window, "SetConnectContextToNSView"):
            # macOS would make a window on the screen even so, which only the main thread may do.
            self._window.SetConnectContextToNSView(False)
        self._window.AddRenderer(self.renderer)
        self.resize(size)
        self._window.Initialize()

    @property
    def camera(self) -> vtkCamera:
        """The camera of the window."""
        return self.renderer.GetActiveCamera()

    def resize(self, size: tuple[int, int]) -> None:
        """Change the size.

        Parameters
        ----------
        size : (int, int)
            Width and height, pixels.
        """
        self._window.SetSize(*size)

    def set_multisampling(self, on: bool) -> None:
        """Choose whether outlines are tested for several samples of a pixel.

        Parameters
        ----------
        on : bool
        """
        self._window.SetMultiSamples(_EDGE_SAMPLES if on else 0)

    def set_background(self, colour: NDArray[np.float64]) -> None:
        """Set the colour behind everything, rounded as a picture holds it.

        Parameters
        ----------
        colour : (3,) float
            sRGB, 0 to 1.
        """
        self.renderer.SetBackground(*(round(255 * channel) / 255 for channel in colour.tolist()))

    def load(self, texture: vtkTexture) -> None:
        """Hand a texture to the driver, which keeps a copy, and free ours.

        VTK would hand it over again if the texture or its image were modified, or drawn in another
        window; neither may be.

        Parameters
        ----------
        texture : vtkTexture
        """
        texture.Load(self.renderer)
        # It gives its unit back: there are too few for all maps of a rod of many wraps and guides.
        # The first picture was black where none was left.
        texture.PostRender(self.renderer)
        # Other than replacing the image, this does not count as a modification.
        texture.GetInput().GetPointData().GetScalars().Initialize()

    def add(self, body: vtkProp) -> None:
        """Put a body into the window.

        Parameters
        ----------
        body : vtkProp
        """
        self.renderer.AddActor(body)

    def remove(self, body: vtkProp) -> None:
        """Take a body out of the window.

        Parameters
        ----------
        body : vtkProp
        """
        self.renderer.RemoveActor(body)

    def picture(self) -> NDArray[np.uint8]:
        """Draw, and read what was drawn.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.
        """
        self._window.Render()
        reader = vtkWindowToImageFilter()
        reader.SetInput(self._window)
        reader.ShouldRerenderOff()
        reader.SetInputBufferTypeToRGB()
        # The front buffer is resolved by VTK's shader; the back buffer, as it is read, by a plain
        # mean, which differs along every outline.
        reader.ReadFrontBufferOn()
        reader.Update()
        image = reader.GetOutput()
        width, height, _ = image.GetDimensions()
        samples: NDArray[np.uint8] = vtk_to_numpy(image.GetPointData().GetScalars())  # type: ignore[no-untyped-call]
        return np.ascontiguousarray(samples.reshape(height, width, 3)[::-1])

    def close(self) -> None:
        """Release the window and its memory."""
        self.renderer.RemoveAllViewProps()
        self.renderer.RemoveAllLights()
        self._window.RemoveRenderer(self.renderer)
        self._window.Finalize()
