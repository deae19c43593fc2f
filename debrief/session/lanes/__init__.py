"""What the lanes show, as values."""
