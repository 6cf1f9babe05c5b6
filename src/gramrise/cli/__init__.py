"""Floor 6: what people type. Commands parse, call one function of a lower floor, and print."""
