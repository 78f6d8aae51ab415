"""What is served: the pages, behind a guard that lets them load from nowhere else, and with one for what goes wrong."""

from asyncio import to_thread
from pathlib import Path
from threading import Thread

import page_first
import streamlit as st
from starlette.middleware import Middleware
from starlette.types import ASGIApp, Receive, Scope, Send
from streamlit.starlette import App

from filtration.cli.serve import guarded
from filtration.present.words.pages import FAULTS


def said(_fault: Exception) -> bool:
    """Say in words what to do where a page fails; the fault itself is in the log by now."""
    st.error(FAULTS["page"])
    return True


def once_ready(app: ASGIApp) -> ASGIApp:
    """Return an ASGI application that lets nobody's page begin before pages can be shown."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket" and not page_first.ready.is_set():
            await to_thread(page_first.ready.wait)
        await app(scope, receive, send)

    return answer


script = Path(__file__).with_name("app.py")
app = App(str(script), middleware=[Middleware(guarded), Middleware(once_ready)], on_script_error=said)
Thread(target=page_first.take, daemon=True).start()
