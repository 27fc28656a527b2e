"""Design files and what lies beside them: read with care, written with their comments kept."""
