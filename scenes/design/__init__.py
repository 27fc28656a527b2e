"""The design document: its model, its checks, paths into it, variants and differences."""
