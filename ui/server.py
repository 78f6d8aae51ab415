"""What is served: the pages, behind a guard that lets them load from nowhere else."""

from pathlib import Path

from starlette.middleware import Middleware
from streamlit.starlette import App

from filtration.cli.serve import guarded

app = App(str(Path(__file__).with_name("app.py")), middleware=[Middleware(guarded)])
