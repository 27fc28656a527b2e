"""What Turnlight costs and whether it holds, measured by command; not for the builder."""
