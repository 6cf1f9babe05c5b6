"""What a table's columns hold, proved from its header and its cells."""
