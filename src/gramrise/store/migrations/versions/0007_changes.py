"""Changes that can be taken back; rows stated by several files; who noticed"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "also_stated",
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("import_id", sa.Integer(), nullable=False),
        sa.Column("table", sa.Text(), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("rows", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_also_stated_person_id")),
        sa.PrimaryKeyConstraint("person_id", "import_id", "table", "part", name=op.f("pk_also_stated")),
    )
    op.create_table(
        "changes",
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("taken_back_at", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.person_id"], name=op.f("fk_changes_person_id")),
        sa.PrimaryKeyConstraint("change_id", name=op.f("pk_changes")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_changes_person_id"), "changes", ["person_id"])
    op.add_column("doses", sa.Column("noticed", sa.Text(), nullable=False, server_default=""))
    _list_what_was_done()


def downgrade() -> None:
    op.drop_column("doses", "noticed")
    op.drop_table("changes")
    op.drop_table("also_stated")


def _list_what_was_done() -> None:
    """Files and answers of before can be taken back, too; facts of before were kept without what stood before them."""
    connection = op.get_bind()
    made: list[tuple[int, dict[str, Any]]] = []
    for row in connection.execute(sa.text("SELECT * FROM imports")).mappings():
        about: dict[str, Any] = {"import_ids": [row["import_id"]], "file": row["file"]}
        kind = "given" if row["layout"] == "give" else "import"
        about |= {"doses": []} if kind == "given" else {"rows": row["added"] + row["corrected"]}
        made.append((row["taken_in_at"], {"person": row["person_id"], "kind": kind, "about": about}))
    for row in connection.execute(sa.text("SELECT * FROM questions WHERE answer IS NOT NULL")).mappings():
        about = {"question_ids": [row["question_id"]], "sentence": row["sentence"], "answer": row["answer"]}
        about |= {"before": [[None, None, None]], "kind": row["kind"]}
        made.append((row["answered_at"], {"person": row["person_id"], "kind": "answer", "about": about}))
    insert = sa.text("INSERT INTO changes (person_id, kind, made_at, about) VALUES (:person, :kind, :at, :about)")
    for at, told in sorted(made, key=lambda each: each[0]):
        connection.execute(insert, {**told, "at": at, "about": json.dumps(told["about"], ensure_ascii=False)})
