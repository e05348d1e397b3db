"""What was found: what readings say together, and which of them hardly go together."""
