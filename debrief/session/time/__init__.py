"""The playback clock and the stretch of time in view."""
