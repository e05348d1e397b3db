"""What families that differ in single figures have in common is laid out once."""
