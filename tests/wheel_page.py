"""Start an installed front end outside the checkout and see that it serves its page."""

import subprocess
import sys
import time
import urllib.error
import urllib.request

PORT = "8599"
WAIT_SECONDS = 60


def main() -> None:
    """Start the command named on the command line and fetch the page."""
    server = subprocess.Popen([sys.argv[1], "app", "--port", PORT], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        deadline = time.monotonic() + WAIT_SECONDS
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{PORT}/_stcore/health", timeout=5) as answer:
                    sys.stdout.write(f"the page answers: {answer.read().decode()}\n")
                    return
            except (urllib.error.URLError, ConnectionError):
                if time.monotonic() > deadline or server.poll() is not None:
                    raise
                time.sleep(0.5)
    finally:
        server.terminate()
        server.wait(timeout=20)


if __name__ == "__main__":
    main()
