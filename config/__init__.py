"""Between floors 1 and 2: defaults people may change, and where they are read: shipped files first, then the home."""
