"""The terminal face."""

from counterpoise.cli.main import main

__all__ = ["main"]
