"""What a zero in a file has become in the canonical unit of its channel."""

ZERO = {"degF": -160.0 / 9.0, "K": -273.15}
