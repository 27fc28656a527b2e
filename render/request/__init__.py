"""What is asked for: which design, how large, how its pictures are taken."""
