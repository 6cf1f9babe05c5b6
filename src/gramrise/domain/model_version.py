"""The version of the model."""

# Raised whenever detect or estimate would give other numbers from the same inputs; findings carry it.
MODEL_VERSION = "11"
