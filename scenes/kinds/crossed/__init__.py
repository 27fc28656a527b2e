"""Crossed patterns: threads led up the blank both ways, one over another."""
