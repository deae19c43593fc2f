"""What each measure was read from: samples, lines of the profile, formula."""
