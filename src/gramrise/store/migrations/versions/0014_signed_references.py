"""The number as a clinician signed it, with all that it rested on"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "signed_references",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("withdrawn_on", sa.Text()),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_signed_references_person_id")),
        sa.PrimaryKeyConstraint("person_id", "number", name=op.f("pk_signed_references")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("signed_references")
