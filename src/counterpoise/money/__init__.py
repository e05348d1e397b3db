"""Estimate, remaining life, the options side by side, the quote."""
