"""The equations of motion: equilibrium, linear response, and integration in time."""
