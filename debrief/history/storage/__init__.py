"""The database: schema, migrations, what is kept."""
