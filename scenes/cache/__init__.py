"""What takes long to compute and depends on little, kept between runs by its content."""
