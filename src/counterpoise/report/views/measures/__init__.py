"""The measurements by hand as forms: what each asks, and its readings."""
