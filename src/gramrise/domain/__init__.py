"""Floor 1: the words of the trade as frozen values and frame contracts. No files, clock, database or network."""
