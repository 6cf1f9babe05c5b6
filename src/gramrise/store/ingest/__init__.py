"""Batches of files put into the tables: identity, corrections, contradictions, doubled doses, the ledger."""
