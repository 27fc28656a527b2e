"""What things are made of: colour, metal, thread, finish and the shelf."""
