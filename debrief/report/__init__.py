"""What to hand over: the report as PDF, CSV and JSON."""
