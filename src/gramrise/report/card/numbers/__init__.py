"""The numbers of the card: what may be printed, every amount, what ends it."""
