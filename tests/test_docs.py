"""The documentation says what the program does."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from defaults_table import PAGE, page_with_table

ROOT = Path(__file__).resolve().parent.parent


def test_the_table_of_defaults_is_current() -> None:
    """docs/model.md carries the defaults as they are; run tests/defaults_table.py to renew it."""
    page = PAGE.read_text(encoding="utf-8")
    assert page_with_table(page) == page


def test_every_room_is_in_the_architecture() -> None:
    """docs/architecture.md names every module."""
    page = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
    modules = [path.stem for path in (ROOT / "filtration").rglob("*.py") if path.stem != "__init__"]
    missing = [module for module in modules if module not in page]
    assert not missing


@pytest.mark.parametrize(
    "page", ["README.md", "DEVELOPERS.md", *(f"docs/{p.name}" for p in (ROOT / "docs").glob("*.md"))]
)
def test_links_lead_somewhere(page: str) -> None:
    """Every link between the pages leads to a file."""
    text = (ROOT / page).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (ROOT / page).parent.joinpath(target).exists(), target


def test_readme_python_runs(tmp_path: Path) -> None:
    """The README's Python is run as it stands, on a demo study."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    study = (ROOT / "data_demo" / "freezer.toml").read_text(encoding="utf-8")
    (tmp_path / "tub.toml").write_text(study, encoding="utf-8")
    done = subprocess.run([sys.executable, "-c", block], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
