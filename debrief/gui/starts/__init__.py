"""The page of starts."""
