"""Single cells: numbers, amounts, times."""
