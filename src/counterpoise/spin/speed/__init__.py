"""Drum speed against time, without a tachometer."""
