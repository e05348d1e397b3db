"""Routes of one job."""
