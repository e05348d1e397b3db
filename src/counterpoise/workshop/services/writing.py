"""What was written under a key, for the faces."""

from __future__ import annotations

from counterpoise.workshop.store.writes import Written

__all__ = ["Written"]
