"""The levels of a person's time bands: evidence, hyperparameter grid, filtering and smoothing."""
