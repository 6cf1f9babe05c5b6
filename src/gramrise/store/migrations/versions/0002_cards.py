"""Cards that were made, with their numbers"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cards",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("for_school", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("valid_until", sa.Text(), nullable=False),
        sa.Column("view", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_cards_person_id")),
        sa.PrimaryKeyConstraint("person_id", "number", name=op.f("pk_cards")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("cards")
