"""What is PostgreSQL's own: the way in, who writes when, rows in bulk, and the server's troubles in words.

Everything else of the store is written once for both databases. Only this part imports psycopg, and only where the
rows are kept by a server.
"""

from gramrise.store.postgres.locks import ONE_VIEW, only_one_in_database, queue
from gramrise.store.postgres.server import engine_of_server
from gramrise.store.postgres.trouble_words import trouble_of_server

__all__ = ["ONE_VIEW", "engine_of_server", "only_one_in_database", "queue", "trouble_of_server"]
