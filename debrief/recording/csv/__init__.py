"""From bytes to a table: sources, dialects, records, cells."""
