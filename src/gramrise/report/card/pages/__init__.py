"""The card in words, on paper and in pictures; the blank sheet of the care plan."""
