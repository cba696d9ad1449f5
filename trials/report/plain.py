"""Results as plain JSON: a value's fields by name, dates in ISO form, and null for what is not."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from enum import Enum
from pathlib import PurePath

from trials.report.grid import unseen

Plain = None | bool | int | float | str | list["Plain"] | dict[str, "Plain"]


def plain(value: object) -> Plain:
    """The value as JSON types; numbers keep their full double precision, NaN becomes null."""
    if value is None or (isinstance(value, bool | int | str) and not isinstance(value, Enum)):
        return value
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    raise TypeError(f"{type(value).__name__} has no plain form")


def json_text(document: Plain) -> str:
    """One JSON document, ready to print; what cannot be seen in it is written by its number."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    return "".join(json.dumps(c)[1:-1] if c != "\n" and unseen(c) else c for c in text)
