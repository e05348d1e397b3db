"""A store as a whole: copied, moved, backed up, restored, and what of it is taken away."""
