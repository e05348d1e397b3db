"""What the reader of spins makes of rehearsed machines that nothing was learned from."""
