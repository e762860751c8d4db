"""Letters that came back: their state, and when, why and by whom it was noted.

Going back, a letter that came back is one that could not be delivered, for the reason it came back.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Instant, Words

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

STRICT = {"sqlite_strict": True}
WORDS_ADDED = ("came_back_because", "came_back_noted_by")
BEFORE = "'waiting', 'sent', 'undeliverable'"


def upgrade() -> None:
    with op.batch_alter_table("outbox", table_kwargs=STRICT) as outbox:
        outbox.add_column(sa.Column("came_back_at", Instant(), nullable=True))
        for name in WORDS_ADDED:
            outbox.add_column(sa.Column(name, Words(), nullable=False, server_default=""))
        outbox.drop_constraint(op.f("ck_outbox_state"), type_="check")
    with op.batch_alter_table("outbox", table_kwargs=STRICT) as outbox:
        for name in WORDS_ADDED:
            outbox.alter_column(name, existing_type=Words(), server_default=None)
        outbox.create_check_constraint(op.f("ck_outbox_state"), f"state IN ({BEFORE}, 'came_back')")


def downgrade() -> None:
    op.execute("UPDATE outbox SET state = 'undeliverable', last_answer = came_back_because WHERE state = 'came_back'")
    with op.batch_alter_table("outbox", table_kwargs=STRICT) as outbox:
        outbox.drop_constraint(op.f("ck_outbox_state"), type_="check")
        for name in (*WORDS_ADDED, "came_back_at"):
            outbox.drop_column(name)
    with op.batch_alter_table("outbox", table_kwargs=STRICT) as outbox:
        outbox.create_check_constraint(op.f("ck_outbox_state"), f"state IN ({BEFORE})")
