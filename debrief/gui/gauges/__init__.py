"""The gauges."""
