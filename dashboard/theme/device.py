"""What the device that looks at a page asked for."""

from __future__ import annotations

import streamlit as st


def is_dark() -> bool:
    """Whether it asked for dark pages."""
    return st.context.theme.type == "dark"
