"""The pages and their JSON twins."""
