"""Devices let into the page, and what was logged on them"""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "devices",
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("link_hash", sa.Text()),
        sa.Column("link_until", sa.BigInteger(), nullable=False),
        sa.Column("session_hash", sa.Text()),
        sa.Column("let_in_at", sa.BigInteger()),
        sa.Column("read_at", sa.BigInteger()),
        sa.Column("shut_out_at", sa.BigInteger()),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_devices_person_id")),
        sa.PrimaryKeyConstraint("device_id", name=op.f("pk_devices")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_devices_session_hash"), "devices", ["session_hash"])
    op.create_index(op.f("ix_devices_person_id"), "devices", ["person_id"])
    op.create_table(
        "phone_entries",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("logged_at", sa.BigInteger(), nullable=False),
        sa.Column("import_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_phone_entries_person_id")),
        sa.PrimaryKeyConstraint("person_id", "entry", name=op.f("pk_phone_entries")),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_phone_entries_person_id_import_id", "phone_entries", ["person_id", "import_id"])


def downgrade() -> None:
    op.drop_table("phone_entries")
    op.drop_table("devices")
