"""What screens and pages say alike: questions and their answers, counts, stock, outcomes of lows."""
