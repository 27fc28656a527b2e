"""Converged photographs of the samples as files, and what each shows."""
