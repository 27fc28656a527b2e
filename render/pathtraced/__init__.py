"""The path-traced picture, made by Mitsuba."""
