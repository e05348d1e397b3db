"""Estimate the parameters of a machine from measurements and recordings."""
