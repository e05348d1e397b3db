"""Belief and planning over an abstract model; knows no machine."""
