"""From columns to channels: evidence, proposals, maps that a person gives."""
