"""Rows of each kind, questions and quarantine."""
