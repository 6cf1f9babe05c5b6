"""The weekly mail: the report written, letters composed, kept and delivered."""
