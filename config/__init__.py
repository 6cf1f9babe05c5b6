"""Defaults people may change, and where they are read from: the shipped files beside this one, then the home."""
