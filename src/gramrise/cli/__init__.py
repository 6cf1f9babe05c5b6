"""Floor 6: what people type. A command parses, calls one function of a lower floor and prints its summary."""
