"""What is measured of the whole flight, its phases, and beta in flight."""
