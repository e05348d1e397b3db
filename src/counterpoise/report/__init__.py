"""What leaves the workshop on paper."""
