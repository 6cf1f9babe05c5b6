"""The week in words and pictures: blocks that each kind of page sets in its own way."""
