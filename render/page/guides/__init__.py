"""Guides on the card of the blank: a scheme chosen for each, and all of them given as a list."""
