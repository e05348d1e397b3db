"""Compiled inner loops: free functions on arrays, no allocation, no fast-math, the same answer every time."""
