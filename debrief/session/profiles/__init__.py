"""An engine profile under a person's hands."""
