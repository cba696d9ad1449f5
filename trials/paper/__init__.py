"""What a season puts on paper: results in, PDF files out."""

from __future__ import annotations

from trials.paper.order_sheet import write_order_sheet

__all__ = ["write_order_sheet"]
