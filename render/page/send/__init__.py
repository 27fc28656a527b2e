"""Sending: what can be made of the design for a customer."""
