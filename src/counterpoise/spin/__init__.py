"""A recording of a spin: read, track speed, orders, signature, likelihood, proof."""
