"""Benchmarks of what closed jobs teach."""
