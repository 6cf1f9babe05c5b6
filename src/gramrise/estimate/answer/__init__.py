"""What is handed on: factors with their uncertainty and state, predictions, courses, what to log next."""
