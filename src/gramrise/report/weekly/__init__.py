"""The weekly report: one view of numbers and codes, shown as HTML, plain text, PDF and mail."""
