"""What is drawn of a channel: real samples only, and how little an axis may span."""
