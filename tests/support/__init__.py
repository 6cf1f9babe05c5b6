"""Invented people, logs, homes and servers that tests of several folders share."""
