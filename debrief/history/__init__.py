"""What usually happens: the history database, baselines, trends.

Nothing heavy is imported here: SQLAlchemy loads with `debrief.history.storage.store`, at first use.
"""
