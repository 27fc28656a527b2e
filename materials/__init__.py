"""What things are made of: colour, metal, thread, finish and the shelf.

Imports nothing else of Turnlight and never sees a mesh. Colours inside are linear sRGB; hex
strings appear only where a person writes or reads them.
"""
