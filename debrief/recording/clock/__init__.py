"""From cells to time: clock texts, candidates, the time base."""
