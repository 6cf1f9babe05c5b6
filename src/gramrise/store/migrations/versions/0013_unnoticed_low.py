"""The latest deep low that nobody noticed, beside the findings"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("findings", sa.Column("unnoticed_low_at", sa.BigInteger()))


def downgrade() -> None:
    op.drop_column("findings", "unnoticed_low_at")
