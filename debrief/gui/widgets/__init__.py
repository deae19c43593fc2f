"""Small parts that several pages use."""
