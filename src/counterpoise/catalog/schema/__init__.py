"""A family file at the border: its text, what it must hold, and every mistake in words."""
