"""What window and paper ask of the history."""
