"""The pages as one web application: the gate, the sign-in, and Streamlit behind them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st
from starlette.middleware import Middleware

from dashboard import single_sign_on, visitor
from dashboard.gate import Gate
from dashboard.sign_in import SignIn, refused
from trials import TallybedError

if TYPE_CHECKING:
    from dashboard.serve import Network

APP = Path(__file__).with_name("app.py")


def served_app(store: Path, network: Network | None) -> st.App:
    """The pages of a store; with a network, nothing is reached without signing in."""
    door = visitor.guard(store if network is not None else None)
    if network is None or door is None:
        return st.App(APP, middleware=[Middleware(Gate, door=None)])
    return st.App(
        APP,
        routes=SignIn(door, secure=network.is_encrypted).routes(),
        middleware=[Middleware(Gate, door=door, has_service=single_sign_on.is_set_up)],
        exception_handlers={TallybedError: refused},
    )
