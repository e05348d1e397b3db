"""Compiled inner loops of the planner: free functions on arrays."""
