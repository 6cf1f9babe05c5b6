"""Readings kept once more as one file a person, for speed"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "traces",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.Column("arrow", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_traces_person_id")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_traces")),
    )


def downgrade() -> None:
    op.drop_table("traces")
