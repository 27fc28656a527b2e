"""Paper to build from: the bench sheet and the true-size template, as PDF."""
