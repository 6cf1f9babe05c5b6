"""The review in words: blocks that a page is set from."""
