"""What is measured of the whole flight, and its phases."""
