"""The history of the tables: one file a step, run by `gramrise.store.database` when a database is opened."""
