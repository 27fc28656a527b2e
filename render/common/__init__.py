"""What every room here uses: files written whole, errors and their reports, progress, tags."""
