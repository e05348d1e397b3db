"""What a job is worth: going on as advised, the ways as they stand now, and what must wait."""
