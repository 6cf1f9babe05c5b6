"""What was on hand of a source, as the family counted it"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "stock_counts",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("counted_at", sa.BigInteger(), nullable=False),
        sa.Column("amount", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_stock_counts_person_id")),
        sa.PrimaryKeyConstraint("person_id", "source", "counted_at", name=op.f("pk_stock_counts")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("stock_counts")
