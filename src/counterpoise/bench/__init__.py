"""Measurements by hand: level and feet, runout, free play, dampers, springs, windings, electrical safety."""
