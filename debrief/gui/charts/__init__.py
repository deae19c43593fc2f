"""The window's still charts: one widget over the description that the paper draws as well."""
