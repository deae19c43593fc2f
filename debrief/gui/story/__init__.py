"""The story on the left."""
