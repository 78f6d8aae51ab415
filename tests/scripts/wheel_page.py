"""See that an installed front end works outside the checkout: one page answers, and the server serves."""

import subprocess
import sys
import time
import urllib.error
import urllib.request

from streamlit.testing.v1 import AppTest

from filtration.base.places import pages_folder

PORT = "8599"
WAIT_SECONDS = 60


def page() -> None:
    """Run the first page and read its answer."""
    sys.path.insert(0, str(pages_folder()))
    shown = AppTest.from_file(str(pages_folder() / "app.py"), default_timeout=120).run()
    assert not shown.exception
    assert any("about every" in text.value for text in shown.title)
    sys.stdout.write(f"the page of {pages_folder().parent.name} answers\n")


def server(command: str) -> None:
    """Start the command and fetch from its server."""
    running = subprocess.Popen([command, "app", "--port", PORT], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        deadline = time.monotonic() + WAIT_SECONDS
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{PORT}/_stcore/health", timeout=5) as answer:
                    sys.stdout.write(f"the server answers: {answer.read().decode()}\n")
                    return
            except (urllib.error.URLError, ConnectionError):
                if time.monotonic() > deadline or running.poll() is not None:
                    raise
                time.sleep(0.5)
    finally:
        running.terminate()
        running.wait(timeout=20)


if __name__ == "__main__":
    page()
    server(sys.argv[1])
