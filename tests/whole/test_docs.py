"""The documentation says what the program does."""

import re
import runpy
import tomllib
from pathlib import Path

import pytest
import reference
import short_answers
from defaults_table import PAGE, page_with_table
from documents import PAGES, ROOT, anchors_of, blocks_of, links_of, text_of
from typer.main import get_command
from typer.testing import CliRunner

from filtration.base.defaults import TABLE
from filtration.base.places import published_file
from filtration.cli.commands import app
from filtration.cli.log import app as log_app
from filtration.present.exports.by_ending import PICTURES, WAYS
from filtration.present.words.pages import PAGES as SCREENS
from filtration.present.words.phrases import TERMS
from filtration.study.tables import LISTS, TABLES, StudyFile

COMMANDS = list(reference.walked(get_command(app), ()))
LONG = "--[a-z][a-z-]+"
GUIDES = [page for page in PAGES if page.startswith("docs/") and page != "docs/changelog.md"]


def test_the_table_of_defaults_is_current() -> None:
    """docs/model.md carries the defaults as they are; run tests/scripts/defaults_table.py to renew it."""
    page = PAGE.read_text(encoding="utf-8")
    assert page_with_table(page) == page


@pytest.mark.parametrize("page", reference.PARTS)
def test_what_the_program_writes_is_current(page: str) -> None:
    """Run python tests/scripts/reference.py to renew it."""
    assert reference.renewed(page, text_of(page)) == text_of(page)


def test_short_answers_are_current_and_short() -> None:
    """Run python tests/scripts/short_answers.py to renew them: at most 18 lines at 80 columns, 25 at 60."""
    page = text_of("docs/short-answers.md")
    assert page == short_answers.page()
    blocks = re.findall(r"^```\n(.*?)^```$", page, re.DOTALL | re.MULTILINE)
    assert len(blocks) == 2 * len(short_answers.STUDIES) == 16
    assert blocks[2 * list(short_answers.STUDIES).index("The demo freezer")] in text_of("README.md")
    for place, block in enumerate(blocks):
        columns = short_answers.COLUMNS[place % 2]
        lines = block.splitlines()
        assert len(lines) <= short_answers.MOST_LINES[columns]
        assert max(map(len, lines)) <= columns
        assert all(line == line.rstrip() for line in lines)


def test_every_room_is_in_the_architecture() -> None:
    """docs/architecture.md names every module."""
    page = text_of("docs/architecture.md")
    modules = [path.stem for path in (ROOT / "filtration").rglob("*.py") if path.stem != "__init__"]
    missing = [module for module in modules if module not in page]
    assert not missing


@pytest.mark.parametrize("page", PAGES)
def test_links_lead_somewhere(page: str) -> None:
    """Every link between the pages leads to a file, and to a heading of it."""
    for target in links_of(page):
        name, _, anchor = target.partition("#")
        file = (ROOT / page).parent / name if name else ROOT / page
        assert file.exists(), target
        if anchor:
            assert anchor in anchors_of(file.read_text(encoding="utf-8")), target


def test_every_page_is_reached_from_the_readme_and_leads_on() -> None:
    """From the README by at most two links; and no page is a dead end."""
    seen, waiting = {"README.md"}, [("README.md", 0)]
    while waiting:
        page, depth = waiting.pop(0)
        for target in links_of(page) if depth < 2 else ():
            other = ((ROOT / page).parent / target.partition("#")[0]).resolve().relative_to(ROOT).as_posix()
            if other.endswith(".md") and other not in seen:
                seen.add(other)
                waiting.append((other, depth + 1))
    assert set(PAGES) == seen
    written = [page for page in GUIDES if page != "docs/performance.md"]
    assert not [page for page in written if not [target for target in links_of(page) if ".md" in target]]


# ---- commands


@pytest.mark.parametrize(("name", "command"), COMMANDS, ids=[" ".join(name) for name, _ in COMMANDS])
def test_a_command_is_documented_as_its_help_says(name: tuple[str, ...], command: object) -> None:
    """What --help says of each word stands in docs/commands.md, and no word is in one and not in the other."""
    done = CliRunner().invoke(app, [*name, "--help"], env={"COLUMNS": "200", "TERMINAL_WIDTH": "200", "TERM": "dumb"})
    assert done.exit_code == 0
    told = flat(re.sub("[\u2500-\u257f|]", " ", done.output))
    (section,) = re.findall(
        rf"^## {' '.join(name)}\n(.*?)(?=^## |^<!-- end)", text_of("docs/commands.md"), re.DOTALL | re.MULTILINE
    )
    assert set(re.findall(LONG, told)) - {"--help"} == set(re.findall(rf"^\| `({LONG})", section, re.MULTILINE))
    documented = flat(section.replace("&lt;", "<").replace("\\|", "|"))
    for each in reference.params(command):
        assert flat(each.help) in told
        assert flat(each.help) in documented
    assert documented.split("```")[0].strip() in told


def flat(text: str) -> str:
    return " ".join(text.split())


def test_every_command_is_named_in_the_user_guide() -> None:
    """By name; the logbook's readings by option."""
    guide = text_of("docs/user-guide.md")
    told = guide + text_of("README.md")
    for name, _ in COMMANDS:
        assert re.search(rf"\b{' '.join(name)}\b", told), name
    (add,) = (command for name, command in reference.walked(get_command(log_app), ()) if name == ("add",))
    for each in reference.params(add):
        if each.opts[0] != "--logbook" and each.param_type_name == "option":
            assert each.opts[0] in guide


# ---- keys, pages, ways out


def test_every_key_of_a_study_is_in_the_user_guide() -> None:
    """Each key of each table stands in a row below its table's heading, once."""
    guide = text_of("docs/user-guide.md")
    tables = {f"### `{f'[[{name}]]' if name in LISTS else f'[{name}]'}`": table for name, table in TABLES.items()}
    for heading, table in {"### At the top": StudyFile, **tables}.items():
        assert guide.count(f"{heading}\n") == 1
        section = re.split("^#", guide.split(f"{heading}\n")[1], maxsplit=1, flags=re.MULTILINE)[0]
        keys = [key for key in table.model_fields if table is not StudyFile or key not in TABLES]
        assert re.findall(r"^\| `(\w+)`", section, re.MULTILINE) == keys
        for key in keys:
            if table.model_fields[key].is_required():
                assert re.search(rf"^\| `{key}` .*\| needed \|$", section, re.MULTILINE)


def test_the_user_guide_has_the_pages_and_the_ways_out() -> None:
    guide = text_of("docs/user-guide.md")
    pages = guide.split("<!-- pages -->")[1].split("<!-- end of pages -->")[0]
    assert re.findall(r"^\| (\w[\w ]*) \|", pages, re.MULTILINE)[1:] == [title for title, _ in SCREENS.values()]
    for ending in (*WAYS, *PICTURES):
        assert f"`{ending}`" in guide


# ---- sources


def test_every_published_source_is_listed() -> None:
    """What is marked P, what a published case is held against, and every author and year named in the code."""
    page = flat(text_of("docs/sources.md"))
    for row in TABLE:
        if row.mark == "P":
            assert flat(row.source.replace(" (mem)", "")) in page
            assert f"`{row.key}`" in page
    for case in tomllib.loads(published_file().read_text(encoding="utf-8"))["case"]:
        assert flat(case["source"]).replace("<", "&lt;") in page
        assert flat(case["name"]) in page
    cited = re.compile(r"\b([A-Z][A-Za-z-]{2,}) ((?:18|19)\d\d|20[01]\d)\b")
    months = {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec", "March", "January"}
    for file in [*(ROOT / "filtration").rglob("*.py"), ROOT / "docs" / "model.md"]:
        for author, year in cited.findall(file.read_text(encoding="utf-8")):
            assert author in months or re.search(rf"{author}[^|]* {year}", page), f"{file.name}: {author} {year}"


def test_the_words_of_the_answer_are_in_the_nomenclature() -> None:
    page = text_of("docs/nomenclature.md")
    missing = [term for term in TERMS if term not in page]
    letters = set(re.findall("[α-ω]", text_of("docs/model.md"))) - set("πσ")  # Archimedes' constant; a mass by volume
    assert not [*missing, *sorted(letters - set(page))]


# ---- what is printed in the documents


PLAIN = str.maketrans({"µ": "u", "²": "2", "³": "3"})  # as on a terminal that only knows ASCII
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


def loosely_in(expected: str, output: str) -> bool:
    """Return whether a text stands in an output with the same words and numbers within 15 %."""
    wanted, found = parts(expected), parts(output)
    width = len(wanted[1])
    places = [at for at in range(len(found[0]) - width) if matches(wanted, found, at)]
    return bool(places)


def parts(text: str) -> tuple[list[str], list[float]]:
    """Return a text cut at its numbers, and the numbers."""
    text = flat(re.sub(r"^[-\s]+", "", text.translate(PLAIN), flags=re.MULTILINE))
    return NUMBER.split(text), [float(number.replace(",", "")) for number in NUMBER.findall(text)]


def matches(wanted: tuple[list[str], list[float]], found: tuple[list[str], list[float]], at: int) -> bool:
    """Return whether a text cut at its numbers stands at a place of another."""
    width = len(wanted[1])
    if not width:
        return any(wanted[0][0] in words for words in found[0])
    first, last = found[0][at], found[0][at + width]
    same = found[0][at + 1 : at + width] == wanted[0][1:-1]
    near = all(abs(a - b) <= 0.15 * abs(a) for a, b in zip(wanted[1], found[1][at : at + width], strict=True))
    return same and near and first.endswith(wanted[0][0]) and last.startswith(wanted[0][-1])


def test_the_loose_comparison_tells_wrong_from_right() -> None:
    assert loosely_in("after 14 days\nit wants", "Take it. After 3 h; after 15 days it wants a rinse.")
    assert not loosely_in("after 14 days it wants", "after 20 days it wants a rinse, 14 times")
    assert not loosely_in("after 14 days it wants", "after 14 days she wants")
    assert loosely_in("Shopping list", "A\nShopping list\n- 2 of 3")
    assert not loosely_in("Shopping list", "Shopping 2 list")


@pytest.mark.parametrize("page", [page for page in GUIDES if blocks_of(page, "sh")])
def test_what_a_document_shows_is_what_is_printed(page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run a page's commands in order; what it says they print, they print, numbers within 15 %."""
    from command import run

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "logbook.sqlite"))
    printed, ran = "", 0
    for language, body in re.findall(r"^```(\w+)\n(.*?)^```$", text_of(page), re.DOTALL | re.MULTILINE):
        if language in ("toml", "csv"):
            (tmp_path / {"toml": "tub.toml", "csv": "tubs.csv"}[language]).write_text(body, encoding="utf-8")
        elif language == "diff":
            changed_in(tmp_path / "tub.toml", body)
        elif language == "sh":
            for line in body.splitlines():
                done = run(*words_of(line))
                assert done.returncode == 0, f"{line}\n{done.stderr}"
                printed, ran = printed + done.stdout, ran + 1
        elif language == "text":
            assert loosely_in(body, printed), body
    assert ran


def changed_in(file: Path, body: str) -> None:
    """Change the beginnings of lines of a file as a document says: what was, what is."""
    text = file.read_text(encoding="utf-8")
    for was, then in zip(*(re.findall(rf"^[{sign}](.*)$", body, re.MULTILINE) for sign in "-+"), strict=True):
        assert text.count(f"\n{was} ") == 1, was
        text = text.replace(f"\n{was} ", f"\n{then} ")
    file.write_text(text, encoding="utf-8")


def words_of(line: str) -> list[str]:
    """Return the words of a command line, its own name and a remark left out."""
    import shlex

    program, *words = shlex.split(line, comments=True)
    assert program == "filtration"
    return words


def test_readme_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The README's Python is run as it stands, on a demo study."""
    readme = text_of("README.md")
    (block,) = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    study = (ROOT / "data_demo" / "freezer.toml").read_text(encoding="utf-8")
    (tmp_path / "tub.toml").write_text(study, encoding="utf-8")
    (tmp_path / "readme.py").write_text(block, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    answer = runpy.run_path("readme.py")["answer"]
    low, _, high = answer.advised.sureness.ranges["days_to_first_service"]
    assert low <= answer.advised.days_to_first_service <= high
    assert len(answer.table()) == len(answer.options)
