"""Findings as they are saved, as they were shown, and the cards made from them."""
