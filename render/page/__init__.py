"""The screen: a page in the builder's browser."""
