"""The profile's limits: where each applies, what was exceeded, which band of the chart."""
