"""The page of the flight."""
