"""What the notebooks call."""
