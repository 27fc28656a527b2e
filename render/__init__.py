"""Pictures of a stage as files, on paper and on a page, and the command line."""
