"""Converged photographs of the samples, which pictures are compared with."""
