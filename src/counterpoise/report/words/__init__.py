"""Numbers, times, entries and parameters as plain words."""
