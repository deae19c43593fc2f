"""Charts of starts as values."""
