"""Compiled loops over flat arrays: forces on every body at one instant, and steps in time."""
