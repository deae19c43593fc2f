"""How anything is said, for whoever says it: the lowest layer, which imports nothing of the others."""
