"""What alembic runs for each command: on the connection the store hands over, in the transaction it has begun."""

from alembic import context

from gramrise.store.schema import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA, render_as_batch=True)
context.run_migrations()
