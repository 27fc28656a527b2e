"""What commands and their parts cost in processor time and memory, kept by machine."""
