"""Records of open standards by their identity at the sender, so that it can take one back"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "source_records",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("first_utc", sa.BigInteger(), nullable=True),
        sa.Column("last_utc", sa.BigInteger(), nullable=True),
        sa.Column("step_us", sa.BigInteger(), nullable=False),
        sa.Column("updated_utc", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_source_records_person_id")),
        sa.PrimaryKeyConstraint("person_id", "record", name=op.f("pk_source_records")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("source_records")
