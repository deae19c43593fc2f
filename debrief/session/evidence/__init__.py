"""Why a number is what it is, for a person who checks it."""
