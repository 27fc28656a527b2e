"""Turnlight in the browser: one folder for each feature, composed by one module."""
