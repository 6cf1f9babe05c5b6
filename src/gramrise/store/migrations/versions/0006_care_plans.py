"""Care plans with all their versions; cards that were thrown away"""

import json

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

# Of the plans that were kept as a dated fact. An amount of its own for automated delivery has taken its place.
NO_LONGER_KEPT = "card_with_automated"


def upgrade() -> None:
    op.create_table(
        "care_plans",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("from_on", sa.Text(), nullable=False),
        sa.Column("plan", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_care_plans_person_id")),
        sa.PrimaryKeyConstraint("person_id", "version", name=op.f("pk_care_plans")),
        sqlite_with_rowid=False,
    )
    op.add_column("cards", sa.Column("gone_on", sa.Text(), nullable=True))
    connection = op.get_bind()
    facts = connection.execute(
        sa.text("SELECT person_id, from_on, value FROM person_facts WHERE fact = 'care_plan' ORDER BY 1, 2")
    ).all()
    versions: dict[str, int] = {}
    for person_id, from_on, value in facts:
        versions[person_id] = versions.get(person_id, 0) + 1
        plan = {name: told for name, told in json.loads(value).items() if name != NO_LONGER_KEPT}
        connection.execute(
            sa.text("INSERT INTO care_plans VALUES (:person, :version, :day, :plan)"),
            {
                "person": person_id,
                "version": versions[person_id],
                "day": from_on,
                "plan": json.dumps(plan, ensure_ascii=False),
            },
        )
    connection.execute(sa.text("DELETE FROM person_facts WHERE fact = 'care_plan'"))


def downgrade() -> None:
    op.drop_table("care_plans")
    op.drop_column("cards", "gone_on")
