"""From samples and speed to numbers with a physical meaning."""
