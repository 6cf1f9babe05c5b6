"""The clinic review: a panel of families, the pages of a person, and the page before the visit."""
