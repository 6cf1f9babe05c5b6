"""The report as people open it: HTML, plain text, PDF and mail."""
