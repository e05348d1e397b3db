"""What closed jobs taught, as it is shown."""
