"""The ways out: PDF, CSV, JSON, text, pictures."""
