"""What the report says, as blocks."""
