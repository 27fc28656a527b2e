"""Files and photographs that a browser uploads."""
