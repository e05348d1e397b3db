"""Use cases: everything that reads or writes the store for a page, a command or a phone."""
