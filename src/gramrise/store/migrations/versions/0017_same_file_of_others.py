"""Whose the very same file was before is asked of every file: by its hash"""

from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_imports_content_hash", "imports", ["content_hash"])


def downgrade() -> None:
    op.drop_index("ix_imports_content_hash", "imports")
