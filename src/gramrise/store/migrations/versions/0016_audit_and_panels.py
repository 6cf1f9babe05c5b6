"""The audit trail, which is only added to; whose persons a clinic's panel shows"""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

REFUSED = "the audit trail is only added to"


def upgrade() -> None:
    op.create_table(
        "audit",
        sa.Column("audit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("did", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("audit_id", name=op.f("pk_audit")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_audit_person", "audit", ["person"])
    op.create_table(
        "panels",
        sa.Column("panel", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_panels_person_id")),
        sa.PrimaryKeyConstraint("panel", "person_id", name=op.f("pk_panels")),
        sqlite_with_rowid=False,
    )
    if op.get_bind().dialect.name == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER audit_stays_{change.lower()} BEFORE {change} ON audit "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION audit_stays() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSED}' USING ERRCODE = 'insufficient_privilege'; END $$"
    )
    op.execute(
        "CREATE TRIGGER audit_stays BEFORE UPDATE OR DELETE ON audit FOR EACH ROW EXECUTE FUNCTION audit_stays()"
    )
    op.execute(
        "CREATE TRIGGER audit_stays_whole BEFORE TRUNCATE ON audit FOR EACH STATEMENT EXECUTE FUNCTION audit_stays()"
    )


def downgrade() -> None:
    op.drop_table("panels")
    op.drop_table("audit")
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP FUNCTION audit_stays()")
