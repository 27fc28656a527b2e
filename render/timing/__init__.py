"""How long a file takes to make on this machine: estimated from its work, later measured."""
