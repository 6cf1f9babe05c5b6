"""Batches of liquid mixed at home, whose strength holds for what is taken from them"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "mixed_batches",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("mixed_at", sa.BigInteger(), nullable=False),
        sa.Column("powder", sa.Text(), nullable=False),
        sa.Column("powder_g", sa.Float(), nullable=False),
        sa.Column("water_by", sa.Text(), nullable=False),
        sa.Column("ml", sa.Float(), nullable=False),
        sa.Column("weighed_g", sa.Float()),
        sa.Column("citric_acid_mg", sa.Float(), nullable=False),
        sa.Column("ascorbic_acid_mg", sa.Float(), nullable=False),
        sa.Column("strength_g_per_ml", sa.Float()),
        sa.Column("before", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_mixed_batches_person_id")),
        sa.PrimaryKeyConstraint("person_id", "number", name=op.f("pk_mixed_batches")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("mixed_batches")
