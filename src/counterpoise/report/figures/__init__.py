"""Figures as SVG."""
