"""Each treatment's own numbers kept from night to night; readings in several files a person, found by their values"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "treatments_kept",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("first_dose_at", sa.BigInteger(), nullable=False),
        sa.Column("key", sa.LargeBinary(), nullable=False),
        sa.Column("numbers", sa.LargeBinary(), nullable=False),
        sa.Column("picture", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_treatments_kept_person_id")),
        sa.PrimaryKeyConstraint("person_id", "first_dose_at", name=op.f("pk_treatments_kept")),
    )
    op.create_index("ix_readings_at_utc_glucose_mg_dl", "readings", ["at_utc", "glucose_mg_dl"])
    # What the files hold stands in the table of readings: they are written anew.
    op.drop_table("traces")
    op.create_table("traces", *_columns(), sa.PrimaryKeyConstraint("person_id", "last_at", name=op.f("pk_traces")))


def downgrade() -> None:
    op.drop_index("ix_readings_at_utc_glucose_mg_dl", "readings")
    op.drop_table("treatments_kept")
    op.drop_table("traces")
    op.create_table("traces", *_columns(), sa.PrimaryKeyConstraint("person_id", name=op.f("pk_traces")))


def _columns() -> list[sa.Column[Any] | sa.ForeignKeyConstraint]:
    return [
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.Column("arrow", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_traces_person_id")),
    ]
