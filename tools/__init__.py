"""Tools for those who work on the code: run as ``python -m tools.NAME``; nothing the program needs."""
