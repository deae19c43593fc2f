"""What usually happens: the history database, baselines, trends."""
