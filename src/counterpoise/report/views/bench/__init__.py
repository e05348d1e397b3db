"""What the bench page says beside the step: its head, and which cautions stand in full."""
