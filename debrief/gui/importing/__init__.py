"""The import dialog."""
