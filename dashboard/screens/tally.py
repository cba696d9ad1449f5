"""Tally."""

from __future__ import annotations

import streamlit as st

st.html("<p>Tally</p>")
