"""Turnlight in the browser: one folder for each feature, put together by one module."""
