"""What a workshop has learned of its own jobs: kept, put in use, frozen, undone, taken back."""
