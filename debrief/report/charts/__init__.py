"""Charts of the report as shapes."""
