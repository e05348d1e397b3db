"""Pools of a thousand workshops: drawn by stated laws, counted on one machine or on many."""
