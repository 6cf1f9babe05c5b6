"""The review as files: HTML, PDF, CSV and JSON."""
