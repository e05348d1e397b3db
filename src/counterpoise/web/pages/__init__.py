"""The routes of the pages and of their JSON twins."""
