"""What the templates of the sheet's page receive."""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.view_parts import View


@dataclass(frozen=True, slots=True)
class SheetPage:
    """`view` is the whole sheet as `app/domain/view.py` builds it; `topic` what its changes are announced under."""

    title: str
    topic: str
    view: View
