"""Which language the workshop's pages are in, and a person's own where it differs (empty: the workshop's)."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Words

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

STRICT = {"sqlite_strict": True}
BEFORE = {"shops": "en", "people": ""}


def upgrade() -> None:
    for table, before in BEFORE.items():
        with op.batch_alter_table(table, table_kwargs=STRICT) as rows:
            rows.add_column(sa.Column("language", Words(), nullable=False, server_default=before))
        with op.batch_alter_table(table, table_kwargs=STRICT) as rows:
            rows.alter_column("language", existing_type=Words(), server_default=None)


def downgrade() -> None:
    for table in BEFORE:
        with op.batch_alter_table(table, table_kwargs=STRICT) as rows:
            rows.drop_column("language")
