"""Belief and planning over an abstract model; knows nothing about washing machines."""
