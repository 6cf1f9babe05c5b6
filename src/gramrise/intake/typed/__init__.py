"""Times as people type or say them, read on their own clock or refused. Terminal and page share them."""
