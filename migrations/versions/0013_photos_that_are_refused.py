"""Photos that the office never takes in: why, on each, and an alarm of their own kind.

Going back, such alarms have no place and are left out.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Words

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

BEFORE = "'went_back', 'missing', 'no_job', 'retired'"
STRICT = {"sqlite_strict": True}
NAME = "ck_tablet_alarms_kind"


def upgrade() -> None:
    with op.batch_alter_table("photos", table_kwargs=STRICT) as photos:
        photos.add_column(sa.Column("refused", Words(), nullable=False, server_default=""))
    with op.batch_alter_table("photos", table_kwargs=STRICT) as photos:
        photos.alter_column("refused", existing_type=Words(), server_default=None)
    _allow(f"{BEFORE}, 'photo_refused'")


def downgrade() -> None:
    op.execute("DELETE FROM tablet_alarms WHERE kind = 'photo_refused'")
    _allow(BEFORE)
    with op.batch_alter_table("photos", table_kwargs=STRICT) as photos:
        photos.drop_column("refused")


def _allow(kinds: str) -> None:
    with op.batch_alter_table("tablet_alarms", table_kwargs=STRICT) as alarms:
        alarms.drop_constraint(op.f(NAME), type_="check")
        alarms.create_check_constraint(op.f(NAME), f"kind IN ({kinds})")
