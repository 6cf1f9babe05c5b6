"""The home's mark from its creation on; letters whose answer never came; what a week's letters were written from"""

import json
import secrets

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("outbox", sa.Column("unanswered", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("run_persons", sa.Column("letters", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("run_persons", sa.Column("data_until", sa.BigInteger()))
    service = sa.table("service", sa.column("key", sa.Text()), sa.column("value", sa.Text()))
    bind = op.get_bind()
    # Made here and not when first asked for: a backup of any day then carries it, and restored letters keep their ids.
    if bind.execute(sa.select(service.c.key).where(service.c.key == "home_mark")).first() is None:
        bind.execute(sa.insert(service).values(key="home_mark", value=json.dumps(secrets.token_hex(16))))


def downgrade() -> None:
    op.drop_column("run_persons", "data_until")
    op.drop_column("run_persons", "letters")
    op.drop_column("outbox", "unanswered")
