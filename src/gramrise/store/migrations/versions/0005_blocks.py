"""Findings and remembered results as blocks that prove themselves; no second copy of the readings"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

# All of these are made again from the inputs.
OLD = ("findings_frames", "treatments_kept", "traces", "findings")


def upgrade() -> None:
    for name in OLD:
        op.drop_table(name)
    _findings(sa.Column("hash", sa.LargeBinary(), nullable=False))
    _table(
        "blocks",
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("slot", sa.BigInteger(), nullable=False),
        sa.Column("key", sa.LargeBinary(), nullable=False),
        sa.Column("model_version", sa.Text(), nullable=False),
        sa.Column("rows_n", sa.Integer(), nullable=False),
        sa.Column("first_us", sa.BigInteger(), nullable=False),
        sa.Column("last_us", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.LargeBinary(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        key=("kind", "slot"),
    )


def downgrade() -> None:
    op.drop_table("blocks")
    op.drop_table("findings")
    _findings()
    _table(
        "findings_frames",
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("rows_n", sa.Integer(), nullable=False),
        sa.Column("arrow", sa.LargeBinary(), nullable=False),
        key=("frame",),
    )
    _table(
        "treatments_kept",
        sa.Column("first_dose_at", sa.BigInteger(), nullable=False),
        sa.Column("key", sa.LargeBinary(), nullable=False),
        sa.Column("numbers", sa.LargeBinary(), nullable=False),
        sa.Column("picture", sa.LargeBinary(), nullable=False),
        key=("first_dose_at",),
    )
    _table(
        "traces",
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.Column("arrow", sa.LargeBinary(), nullable=False),
        key=("last_at",),
    )


def _findings(*more: sa.Column[Any]) -> None:
    _table(
        "findings",
        sa.Column("as_of_utc", sa.BigInteger(), nullable=False),
        sa.Column("model_version", sa.Text(), nullable=False),
        sa.Column("inputs_version", sa.Integer(), nullable=False),
        sa.Column("log_next", sa.Text(), nullable=False),
        *more,
    )


def _table(name: str, *columns: sa.Column[Any], key: tuple[str, ...] = ()) -> None:
    op.create_table(
        name,
        sa.Column("person_id", sa.Text(), nullable=False),
        *columns,
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f(f"fk_{name}_person_id")),
        sa.PrimaryKeyConstraint("person_id", *key, name=op.f(f"pk_{name}")),
    )
