"""Opening a file in steps."""
