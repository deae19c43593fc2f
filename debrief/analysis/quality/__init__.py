"""Whether what was recorded can be believed."""
