"""What the pages show, as values with their words; templates compute nothing."""
