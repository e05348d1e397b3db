"""What the bench page says beside the step: its head, who else is there, what care to take."""
