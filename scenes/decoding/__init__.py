"""Files that may be a stranger's, decoded in a child process with limits on what it may use."""
