"""Questions only a person can answer, and what their answers change."""
