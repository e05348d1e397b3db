"""Simulated jobs: policies compared, ranges calibrated, the case book played."""
