"""The open document: edited, undone, saved, watched on disk, recovered after a crash."""
