"""Which entries name which photo, so that only such bytes are taken in and shown. Filled from the ledger there is."""

from __future__ import annotations

import json
import re

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Flag, Whole, Words

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

SHA256 = re.compile(r"[0-9a-f]{64}")


def upgrade() -> None:
    photos = op.create_table(
        "photos",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("sha256", Words(), nullable=False),
        sa.Column("here", Flag(), nullable=False),
        sa.CheckConstraint("here IN (false, true)", name=op.f("ck_photos_here")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_photos")),
        sa.UniqueConstraint("id", name=op.f("uq_photos_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_photos_job"), "photos", ["job"])
    op.create_index(op.f("ix_photos_sha256"), "photos", ["sha256"])
    named = [
        {"id": entry_id, "job": job, "sha256": sha256, "here": False}
        for entry_id, job, raw in _entries()
        if (sha256 := _named(raw))
    ]
    if named:
        op.bulk_insert(photos, named)


def downgrade() -> None:
    op.drop_table("photos")


def _entries() -> list[tuple[str, str, str]]:
    ledger = sa.table("ledger", *(sa.column(name) for name in ("order", "entry_id", "job", "kind", "raw")))
    asked = sa.select(ledger.c.entry_id, ledger.c.job, ledger.c.raw).where(ledger.c.kind == "photo_added")
    return [(row[0], row[1], row[2]) for row in op.get_bind().execute(asked.order_by(ledger.c.order))]


def _named(raw: str) -> str:
    body = json.loads(raw).get("body")
    sha256 = body.get("sha256") if isinstance(body, dict) else None
    return sha256 if isinstance(sha256, str) and SHA256.fullmatch(sha256) else ""
