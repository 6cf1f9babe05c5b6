"""The review as numbers and codes."""
