"""The step sheet and the label of a liquid mixed at home, on one page of paper."""
