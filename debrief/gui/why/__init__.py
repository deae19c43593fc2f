"""Why: the evidence beside what it explains, and what would change the verdict."""
