"""Figures keep what was said when the sums doubted them; those that are there have nothing to say."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Words

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("figures", table_kwargs={"sqlite_strict": True}) as figures:
        figures.add_column(sa.Column("confirmed_because", Words(), nullable=False, server_default=""))
    with op.batch_alter_table("figures", table_kwargs={"sqlite_strict": True}) as figures:
        figures.alter_column("confirmed_because", existing_type=Words(), server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("figures", table_kwargs={"sqlite_strict": True}) as figures:
        figures.drop_column("confirmed_because")
