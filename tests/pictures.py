"""Make the pictures of the documentation: python tests/pictures.py (wants Debian's chromium)."""

import contextlib
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import sync_playwright

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextlib.contextmanager
def served() -> Iterator[str]:
    """Serve the pages on a free port; yield the address."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port = trial.getsockname()[1]
    command = [sys.executable, "-m", "filtration", "app", "--port", str(port)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            with contextlib.suppress(urllib.error.URLError, ConnectionError):
                urllib.request.urlopen(f"{address}/_stcore/health", timeout=5).close()  # noqa: S310 - our own server
                break
            time.sleep(0.5)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


def main() -> None:
    """Photograph the first page's answer."""
    PICTURES.mkdir(exist_ok=True)
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
        page = browser.new_page(viewport={"width": 1180, "height": 1250})
        page.goto(address)
        page.wait_for_selector("text=Before anyone gets in", timeout=120_000)
        page.wait_for_selector('[data-testid="stApp"][data-test-script-state="notRunning"]', timeout=60_000)
        page.wait_for_timeout(1500)
        page.screenshot(path=str(PICTURES / "compare.png"))
        browser.close()


if __name__ == "__main__":
    main()
