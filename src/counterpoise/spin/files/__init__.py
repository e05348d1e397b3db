"""Recordings from files: tables, columns, units, time axis."""
