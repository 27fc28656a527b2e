"""The picture drawn by a browser: the live picture's shading in WebGL2, and the stage it draws."""
