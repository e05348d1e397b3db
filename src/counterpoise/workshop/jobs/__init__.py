"""A job as its evidence: entries, their checks and JSON, photos, settings."""
