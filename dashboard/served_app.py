"""The pages as one web application: the gate, the sign-in, and Streamlit behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st
from starlette.middleware import Middleware

from dashboard import photo_routes
from dashboard.access import visitor
from dashboard.access.connections import bound_connections
from dashboard.access.gate import Gate
from dashboard.access.log_lines import quiet_logs
from dashboard.access.service_door import ServiceDoor
from dashboard.access.service_file import Service
from dashboard.access.sign_in import SignIn, refused
from dashboard.access.watch import APP
from dashboard.tally import phone_routes
from trials import TallybedError

if TYPE_CHECKING:
    from pathlib import Path

    from dashboard.access.network import Network


def served_app(store: Path, network: Network | None, service: Service | None = None) -> st.App:
    """The pages of a store; with a network, nothing is reached without signing in.

    ``service`` is another sign-in service that vouches for people by their e-mail address.
    """
    door = visitor.guard(store if network is not None else None)
    if network is None or door is None:
        routes = [*phone_routes.routes(), *photo_routes.routes()]
        return st.App(APP, routes=routes, middleware=[Middleware(Gate, door=None)])
    bound_connections()
    quiet_logs()
    secure, has_service = network.is_encrypted, service is not None
    hosts = (*network.answers_to, *(() if service is None else (service.host,)))
    sign_in = SignIn(door, secure=secure, has_service=has_service)
    middleware = [Middleware(Gate, door=door, hosts=hosts, has_service=has_service)]
    if service is not None:
        middleware.append(Middleware(ServiceDoor, door=door, service=service, secure=secure))
    return st.App(
        APP,
        routes=[*sign_in.routes(), *phone_routes.routes(), *photo_routes.routes()],
        middleware=middleware,
        exception_handlers={TallybedError: refused},
    )
