"""The file menu: open, save, samples, undo and redo."""
