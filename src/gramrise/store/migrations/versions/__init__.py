"""Steps of the history of the tables, oldest first."""
