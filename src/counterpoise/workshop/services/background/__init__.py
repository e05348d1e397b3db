"""What is worked out before anybody asks for it."""
