"""A file as it is proposed to be read, its questions, and what a person makes of it."""
