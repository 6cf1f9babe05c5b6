"""Layouts: short TOML descriptions of tables people keep, each with a clean and a broken sample and what both give."""
