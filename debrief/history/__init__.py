"""What usually happens: the history database, baselines, trends.

Nothing is imported here: SQLAlchemy loads with `debrief.history.store`, at first use.
"""
