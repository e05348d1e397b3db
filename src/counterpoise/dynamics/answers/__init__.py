"""Questions to the simulated machine and their answers in plain sentences."""
