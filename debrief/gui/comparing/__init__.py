"""The compared start in the window: which it is, where it is chosen, and what is said of it."""
