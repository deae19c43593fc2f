"""Words for people: names, definitions, the story, other units."""
