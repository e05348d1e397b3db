"""Estimate the parameters of a machine from measurements."""
