"""How many contacts of a tablet were heard, as the tablet counts them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Whole

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

STRICT = {"sqlite_strict": True}


def upgrade() -> None:
    with op.batch_alter_table("tablets", table_kwargs=STRICT) as tablets:
        tablets.add_column(sa.Column("contacts", Whole(), nullable=False, server_default="0"))
    with op.batch_alter_table("tablets", table_kwargs=STRICT) as tablets:
        tablets.alter_column("contacts", existing_type=Whole(), server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("tablets", table_kwargs=STRICT) as tablets:
        tablets.drop_column("contacts")
