"""What was recorded: `model` has the value types, `reader` reads a file; nothing heavy is imported here."""
