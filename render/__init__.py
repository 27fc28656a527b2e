"""Pictures of a stage: live, still, turning, side by side, and the command line."""
