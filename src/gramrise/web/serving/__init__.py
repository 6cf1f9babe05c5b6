"""The server: where it listens, its certificate, and slow clients."""
