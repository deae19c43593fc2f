"""From a file to an assessment, with what the user, the file or the history said."""
