"""Every term of the pages, explained in a line."""

from __future__ import annotations

import streamlit as st

from dashboard.theme import markup
from trials.report.glossary import PARTS
from trials.report.grid import Column, Table

st.html(markup.heading("What the words mean", eyebrow="Terms"))
for part, terms in PARTS.items():
    explained = Table((Column("term"), Column("what it means")), tuple(terms.items()))
    st.html(markup.section(part) + markup.table(explained))
