"""What stands between a request and the pages: sessions, limits, headers."""
