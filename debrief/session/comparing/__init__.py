"""A start laid behind the one on the table: which, where it is aligned, and what lies between the two."""
