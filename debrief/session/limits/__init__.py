"""How limits stand at a moment: seconds in use, instruments, cursors, bands."""
