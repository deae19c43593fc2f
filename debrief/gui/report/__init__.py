"""The page of the report."""
