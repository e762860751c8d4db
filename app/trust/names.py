"""The one name that tablets know the office by: what it may be, before any certificate is made for it."""

from __future__ import annotations

import ipaddress
import re

from app.domain.problems import Problem

# Of a certificate's subject (RFC 5280, appendix A: ub-common-name), into which the name is written.
LONGEST = 64
# RFC 1123, 2.1: letters, figures and hyphens, no hyphen at either end, at most 63 of them.
_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")


def read_name(typed: str) -> str | Problem:
    """The name in small letters; or what is wrong with it.

    An address of figures changes with the network, and no tablet would find the office again. A word without a dot is
    looked up differently by each kind of tablet, so that no certificate for it is any use.
    """
    name = typed.strip().lower().removesuffix(".")
    if not name:
        return Problem("office_name_missing", "name")
    labels = name.split(".")
    if _is_address(name) or labels[-1].isdigit():
        return Problem("office_name_address", "name", {"typed": typed.strip()})
    if len(name) > LONGEST:
        return Problem("too_long", "name", {"limit": LONGEST})
    wrong = [label for label in labels if not _LABEL.fullmatch(label)]
    if wrong:
        return Problem("office_name_form", "name", {"typed": typed.strip()})
    if len(labels) == 1:
        return Problem("office_name_single", "name", {"typed": name})
    return name


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True
