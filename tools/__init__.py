"""Tools for those who work on the code: ``python -m tools.NAME``."""
