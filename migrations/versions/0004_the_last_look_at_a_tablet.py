"""The last look at each tablet: what it proved of itself, point by point. None has been looked at before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Instant, Whole, Words

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "readiness_checks",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("checked_at", Instant(), nullable=False),
        sa.Column("points", Words(), nullable=False),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_readiness_checks_tablet")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_readiness_checks")),
        sa.UniqueConstraint("id", name=op.f("uq_readiness_checks_id")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("readiness_checks")
