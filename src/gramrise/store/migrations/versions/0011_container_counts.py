"""Counts of containers: pieces put in and pieces left"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "container_counts",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("container", sa.Text(), nullable=False),
        sa.Column("to_at", sa.BigInteger(), nullable=False),
        sa.Column("from_at", sa.BigInteger(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("pieces_filled", sa.Integer(), nullable=False),
        sa.Column("pieces_left", sa.Integer(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_container_counts_person_id")),
        sa.PrimaryKeyConstraint("person_id", "container", "to_at", name=op.f("pk_container_counts")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("container_counts")
