"""What holds for everything that is sent: written once, conflicts shown, errors at their field."""
