"""The page of the history."""
