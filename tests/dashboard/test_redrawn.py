"""A page that draws itself anew gives way to the page that its visitor asked for meanwhile."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest


def page() -> None:
    import streamlit as st
    from streamlit.runtime.scriptrunner import RerunData, get_script_run_ctx

    from dashboard.redrawn import draw_again

    ctx = get_script_run_ctx()
    assert ctx is not None
    st.text(ctx.page_script_hash)
    if "asked" not in st.session_state:
        st.session_state["asked"] = True
        assert ctx.script_requests is not None
        ctx.script_requests.request_rerun(RerunData(page_script_hash="another"))  # a tap on a link
        draw_again()


def test_a_page_asked_for_while_this_one_is_drawn_is_shown() -> None:
    shown = AppTest.from_function(page).run()
    assert not shown.exception
    assert [text.value for text in shown.text] == ["another"]
