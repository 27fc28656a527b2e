"""What may stand in a design file: every table and field, and a JSON Schema, from the models."""
