"""Measurements by hand: level, runout, play, dampers, springs, windings, safety, lifting.

Each function takes numbers with their unit in the name and gives a frozen result: a sentence,
quantities with 90 % intervals, cautions, and soft weights over ordered outcomes. See
``docs/bench.md``.
"""
