"""The invented workshop of the demo."""
