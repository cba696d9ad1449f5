"""The network's publication: each variety over many farms, and which of them lack trials."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard.network import publication
from dashboard.pictures import show_picture
from dashboard.theme import markup
from trials.report.figures import count
from trials.report.pictures.network import lead_picture
from trials.report.pool_page import best_first, measure_of, remarks, trials_wanted

SHOWN = 30  # varieties in the picture; the table of the publication has all

published = publication()
subjects = {f"{each.crop}, {measure_of(each).label}": each for each in published.subjects}
chosen = st.selectbox("Crop and measure", list(subjects), key="subject")
subject = subjects[chosen]
facts = [
    count(subject.farms, "farm"),
    count(subject.trials, "trial"),
    count(subject.seasons, "season"),
    f"each figure from {published.fewest_farms} farms or more",
]
st.html(markup.heading("Network", eyebrow=chosen, facts=facts))
if subject.waits:
    st.html(markup.note(f"Not published. {subject.waits}"))
else:
    ranked = best_first(subject)[:SHOWN]
    show_picture(partial(lead_picture, ranked, measure_of(subject).unit), "lead")
    st.html(markup.lines(remarks(subject)))
    st.html(
        markup.section("Where one more trial would help most")
        + markup.table(trials_wanted(subject))
    )
