"""Decals: lettering and pictures on a film under the finish."""
