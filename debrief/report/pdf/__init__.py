"""From content to pages: layout, shapes into pieces, painting, archive."""
