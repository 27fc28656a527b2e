"""A thread's colour, read off a builder's photograph."""
