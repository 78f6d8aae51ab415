"""Break every promise of docs/reliability.md on purpose, one at a time in a copy of the tree, and see its test fail.

    python tests/bench/bench_promises.py
    python tests/bench/bench_promises.py --only logbook

The breaks stand in ``tests/helpers/promise_breaks.py``. Each test is first seen to pass on the copy as it is, then to
fail with its promise broken, and the copy is restored. Wants git, and Debian's chromium for the real pages; a whole
run takes some twenty minutes. Prints to standard output alone; exits with 1 unless every test failed.
"""

import argparse
import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from promise_breaks import BREAKS, ROOT, Break, file_of, promise_of, text_of

MOST_S = 600
FAILED, PASSES, NOT_BROKEN = "failed as it should", "still passes", "could not break"


def copied(to: Path) -> None:
    """Copy what git knows and what it would."""
    command = ["git", "ls-files", "-coz", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    for name in listed.stdout.decode().split("\0"):
        if name and (ROOT / name).is_file():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, to / name)


def ran(copy: Path, *words: str) -> tuple[int | None, str]:
    """Run Python on the copy; return its exit status, none where it does not end, and what it printed."""
    # No bytecode: a file broken and restored within a second would be taken for the one compiled before.
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "always"}
    process = subprocess.Popen(
        [sys.executable, *words],
        cwd=copy,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        out, _ = process.communicate(timeout=MOST_S)
    except subprocess.TimeoutExpired:
        return None, ""
    finally:  # and whatever a broken program leaves behind
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
    return process.returncode, out


def tested(copy: Path, nodes: Sequence[str]) -> tuple[int | None, str]:
    """Run tests on the copy until one fails."""
    return ran(copy, "-m", "pytest", "-q", "-x", "-m", "", "-p", "no:cacheprovider", "--color=no", *nodes)


def node_of(each: Break) -> str:
    """Return the test as pytest names it."""
    file, name = each.test.split("::")
    return f"{file_of(file)}::{name}" + (f"[{each.case}]" if each.case else "")


def broken(copy: Path, each: Break) -> tuple[str, str]:
    """Break one promise in the copy, run its test, restore; return what came of it, and why the test failed."""
    file, before = copy / each.file, text_of(each.file, copy)
    if before.count(each.old) != 1:
        return NOT_BROKEN, f"{each.file} has the old text {before.count(each.old)} times"
    file.write_bytes(before.replace(each.old, each.new).encode())
    try:
        status, out = tested(copy, [node_of(each)])
    finally:
        file.write_bytes(before.encode())
    match status:
        case 1:
            return FAILED, (re.findall(r"^E +(\S.*)$", out, re.MULTILINE) or [""])[0]
        case 0:
            return PASSES, "" if re.search(r"\d passed", out) else "it was skipped"
        case None:
            return NOT_BROKEN, f"the test does not end within {MOST_S} s"
        case _:
            return NOT_BROKEN, out.strip().splitlines()[-1]


def main() -> None:
    """Break what is asked for and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", metavar="SUBSTRING", help="of a promise, a test or a file")
    parser.add_argument("--list", action="store_true", help="print the breaks and stop")
    arguments = parser.parse_args()
    rows = [(promise_of(start)[0], each) for start, some in BREAKS.items() for each in some]
    rows = [(promise, each) for promise, each in rows if arguments.only in f"{promise} {node_of(each)} {each.file}"]
    if arguments.list:
        for promise, each in rows:
            print(f"{promise}\n    {node_of(each)}\n    {each.file}: {each.old.strip()!r} -> {each.new.strip()!r}")
        return
    if not rows:
        sys.exit("no break has that in it")
    with TemporaryDirectory(prefix="promises-") as folder:
        copy, began = Path(folder).resolve(), time.monotonic()
        copied(copy)
        _, where = ran(copy, "-c", "import filtration; print(filtration.__file__)")
        if where.strip() != str(copy / "filtration" / "__init__.py"):
            sys.exit(f"the tests would not try the copy but {where}")
        status, out = tested(copy, list(dict.fromkeys(node_of(each) for _, each in rows)))
        if status != 0:
            sys.exit(f"a test fails with nothing broken:\n{out}")
        print(f"unbroken: {out.strip().splitlines()[-1].strip('= ')}", flush=True)
        good = 0
        for promise, each in rows:
            start = time.monotonic()
            came, why = broken(copy, each)
            good += came == FAILED
            print(f"{promise[:100]}\n    {node_of(each)}", flush=True)
            print(f"    {came} ({time.monotonic() - start:.0f} s){f': {why[:150]}' if why else ''}", flush=True)
    if good < len(rows):
        sys.exit(f"{good} of {len(rows)} breaks seen; the others stand above")
    promises = len({promise for promise, _ in rows})
    told = f"{promises} of {promises} promises broken, in {len(rows)} ways: each test failed"
    print(f"{told} ({time.monotonic() - began:.0f} s)")


if __name__ == "__main__":
    main()
