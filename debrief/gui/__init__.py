"""The window: replay, gauges, timeline. The only folder but one module of report/ that knows Qt."""
