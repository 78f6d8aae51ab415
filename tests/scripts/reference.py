"""Write what the documents take from the program: python tests/scripts/reference.py.

What stands between the marks in docs/api.md, docs/commands.md and docs/sources.md, and the keys of a study file in
docs/user-guide.md.
"""

import dataclasses
import inspect
import re
import tomllib
import typing
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import FunctionType, GenericAlias
from typing import Any

from typer.main import get_command

import filtration
from filtration.base.defaults import TABLE
from filtration.base.places import published_file
from filtration.cli.commands import app
from filtration.present.words.check import described
from filtration.study.file import study_json_schema
from filtration.study.tables import LISTS, TABLES

ROOT = Path(__file__).resolve().parents[2]
START, END = "<!-- written by tests/scripts/reference.py -->\n", "<!-- end -->\n"
_HEADING = re.compile(r"^(\w[\w ]*)\n-{3,}\n", re.MULTILINE)


def cell(text: object) -> str:
    """Return a text that stays in its cell of a Markdown table."""
    return " ".join(str(text).split()).replace("|", "\\|").replace("<", "&lt;")


def rows(head: tuple[str, ...], body: list[tuple[object, ...]]) -> str:
    """Return a Markdown table."""
    lines = [head, ("---",) * len(head), *body]
    return "".join("| " + " | ".join(cell(each) for each in line) + " |\n" for line in lines)


# ---- the keys of a study file


def keys() -> str:
    """Return every table of a study file with its keys."""
    schema = described(study_json_schema())
    parts = [_keys_of("", schema)]
    for name, table in TABLES.items():
        parts.append(_keys_of(name, schema["$defs"][table.__name__]))
    return "\n".join(parts)


def _keys_of(table: str, schema: Mapping[str, Any]) -> str:
    heading = f"[[{table}]]" if table in LISTS else f"[{table}]" if table else "At the top"
    needed = schema.get("required", ())
    body: list[tuple[object, ...]] = []
    for key, told in schema["properties"].items():
        if not table and key in TABLES:
            continue
        default = told.get("default", "")
        default = str(default).lower() if isinstance(default, bool) else default
        left_out = "needed" if key in needed else f"{default:g}" if isinstance(default, float) else default
        body.append((f"`{key}`", told.get("description", ""), left_out))
    title = f"`{heading}`" if table else heading
    return f"### {title}\n\n" + rows(("key", "what it holds; how to find it out", "left out"), body)


# ---- commands


def commands() -> str:
    """Return every command with its arguments and options."""
    parts = []
    for name, command in walked(get_command(app), ()):
        told = " ".join((command.help or "").split())
        usage = " ".join(["filtration", *name, *map(_usage, command.params)])
        body = [(f"`{_word(each)}`", _meaning(each), _left_out(each)) for each in params(command)]
        table = "\n" + rows(("word", "meaning", "left out"), body) if body else ""
        parts.append(f"## {' '.join(name)}\n\n{told}\n\n```text\n{usage}\n```\n{table}")
    return "\n".join(parts)


def walked(command: Any, name: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield each command with its words, groups entered in order."""
    inner = getattr(command, "commands", None)
    if inner is None:
        yield name, command
        return
    for word in sorted(inner):
        yield from walked(inner[word], (*name, word))


def params(command: Any) -> list[Any]:
    """Return what can be given to a command, its help aside."""
    return [each for each in command.params if each.name != "help"]


def _usage(each: Any) -> str:
    word = _word(each)
    return word if each.required else f"[{word}]"


def _word(each: Any) -> str:
    """Return a parameter as it is typed."""
    if each.param_type_name == "argument":
        return str(each.metavar or each.name).removesuffix("...")
    if getattr(each, "is_flag", False):
        return str(each.opts[0])
    return f"{each.opts[0]} {each.metavar or ('NUMBER' if isinstance(each.default, int) else 'TEXT')}"


def _meaning(each: Any) -> str:
    told = str(getattr(each, "help", "") or "")
    return f"{told} May be given several times." if getattr(each, "multiple", False) else told


def _left_out(each: Any) -> str:
    if each.required:
        return "needed"
    default = each.default
    return "" if default is None or getattr(each, "is_flag", False) else str(default)


# ---- sources


def sources() -> str:
    """Return every published source that a default or a published case names, with where it is used."""
    used: dict[str, list[str]] = {}
    for row in TABLE:
        if row.mark == "P":
            used.setdefault(row.source, []).append(f"`{row.key}`")
    cases: dict[str, list[str]] = {}
    recalled = set()
    for case in tomllib.loads(published_file().read_text(encoding="utf-8"))["case"]:
        cases.setdefault(case["source"], []).append(case["name"])
        recalled |= {case["source"]} if case["memory"] else set()
    constants = [
        (source.replace(" (mem)", ""), ", ".join(names), "yes" if "(mem)" in source else "")
        for source, names in used.items()
    ]
    checks = [(source, "; ".join(names), "yes" if source in recalled else "") for source, names in cases.items()]
    return (
        "## Constants\n\n"
        + rows(("source", "default", "recalled from memory"), constants)
        + "\n## Checks\n\n"
        + rows(("source", "what is held against it", "recalled from memory"), checks)
    )


# ---- the public names


def api() -> str:
    """Return the reference of the public names and of what their results are made of."""
    public = {name: getattr(filtration, name) for name in filtration.__all__}
    functions = {name: each for name, each in public.items() if isinstance(each, FunctionType)}
    classes = [each for each in public.values() if isinstance(each, type)]
    inner = [each for each in reached(classes) if each not in classes]
    parts = ["## Functions\n"]
    parts += [_function(name, each) for name, each in functions.items()]
    parts.append("## What they return\n")
    parts += [_class(each) for each in classes]
    parts.append("## What that is made of\n")
    parts += [_class(each) for each in sorted(inner, key=lambda each: each.__name__)]
    return "\n".join(parts)


def reached(classes: list[type]) -> list[type]:
    """Return the dataclasses and named tuples that fields of others hold, however deep."""
    found: list[type] = []
    waiting = [each for each in classes if dataclasses.is_dataclass(each)]
    while waiting:
        for hint in _hints(waiting.pop()).values():
            for each in _in(hint):
                if (dataclasses.is_dataclass(each) or hasattr(each, "_fields")) and each not in {*found, *classes}:
                    found.append(each)
                    waiting.append(each)
    return found


def _hints(owner: type) -> dict[str, Any]:
    return typing.get_type_hints(owner)


def _in(hint: Any) -> Iterator[type]:
    if isinstance(hint, type) and not isinstance(hint, GenericAlias):
        yield hint
    for each in typing.get_args(hint):
        yield from _in(each)


def _function(name: str, function: Callable[..., object]) -> str:
    return f"### {name}\n\n```python\n{name}{_signature(function)}\n```\n\n{_told(inspect.getdoc(function) or '')}"


def _signature(function: Callable[..., object]) -> str:
    """Return the names and defaults of a function's parameters; the text below has their types."""
    each = inspect.signature(function)
    bare = [one.replace(annotation=inspect.Parameter.empty) for one in each.parameters.values()]
    shown = str(each.replace(parameters=bare, return_annotation=inspect.Signature.empty))
    return shown.replace("'", '"')  # as the formatter has it


def _class(owner: type) -> str:
    told = inspect.getdoc(owner) or ""
    parts = [f"### {owner.__name__}\n\n{_told(told)}"]
    names = [each.name for each in dataclasses.fields(owner)] if dataclasses.is_dataclass(owner) else _of_tuple(owner)
    if names and "Parameters\n----" not in told:
        hints = _hints(owner)
        parts.append("".join(f"- `{name}`: {_type(hints[name])}\n" for name in names))
    parts += [_member(name, each) for name, each in vars(owner).items() if not name.startswith("_")]
    return "\n".join(part for part in parts if part)


def _of_tuple(owner: type) -> Sequence[str]:
    """Return the names of a named tuple's fields."""
    return getattr(owner, "_fields", ())


def _type(hint: Any) -> str:
    """Return a type as it is written, without where its parts come from."""
    return re.sub(r"(?:\w+\.)+(?=\w)", "", inspect.formatannotation(hint))


def _member(name: str, member: object) -> str:
    """Return a method or a property in a line; what the fields hold is told above."""
    if isinstance(member, property):
        return f"- **`{name}`**: {_first(member.fget)}\n"
    if isinstance(member, FunctionType):
        return f"- **`{name}{_signature(member).replace('(self, ', '(').replace('(self)', '()')}`**: {_first(member)}\n"
    return ""


def _first(function: object) -> str:
    """Return what a docstring says before its sections, on one line."""
    return " ".join(_HEADING.split(inspect.getdoc(function) or "")[0].split())


def _told(doc: str) -> str:
    """Return a numpydoc docstring as Markdown."""
    intro, *sections = _HEADING.split(doc)
    parts = [intro.strip() + "\n"]
    for heading, body in zip(sections[::2], sections[1::2], strict=True):
        if heading == "Examples":
            parts.append(f"```pycon\n{body.strip()}\n```\n")
        elif heading in ("Notes", "References"):
            parts.append(f"{body.strip()}\n")
        else:
            parts.append(f"**{heading}**\n\n{''.join(_entries(body))}")
    return "\n".join(parts).replace("``", "`")


def _entries(body: str) -> Iterator[str]:
    """Yield each entry of a section as a line of a list."""
    for entry in re.split(r"\n(?=\S)", body.strip()):
        head, *rest = entry.split("\n")
        name, _, kind = head.partition(" : ")
        text = " ".join(" ".join(rest).split())
        yield f"- `{name}`{f' ({kind})' if kind else ''}{f': {text}' if text else ''}\n"


PARTS: Mapping[str, Callable[[], str]] = {
    "docs/api.md": api,
    "docs/commands.md": commands,
    "docs/sources.md": sources,
    "docs/user-guide.md": keys,
}


def renewed(page: str, text: str) -> str:
    """Return a page with what the program says now between its marks."""
    before, rest = text.split(START)
    return before + START + "\n" + PARTS[page]() + "\n" + END + rest.split(END, 1)[1]


if __name__ == "__main__":
    for page in PARTS:
        file = ROOT / page
        file.write_text(renewed(page, file.read_text(encoding="utf-8")), encoding="utf-8")
