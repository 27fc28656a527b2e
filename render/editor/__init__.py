"""The open document: changed, taken back, saved, watched on disk, recovered after a crash."""
