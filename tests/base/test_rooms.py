"""Rooms: what each hands out is named, and nothing else of it is taken by another."""

import ast
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest

import filtration

PACKAGE = Path(filtration.__file__).parent
ROOMS = [found.name for found in iter_modules([str(PACKAGE)]) if found.ispkg and found.name != "cli"]
INNER = {"present": ("words", "charts", "exports")}
MOST_MODULES = 20


def room_of(module: str) -> str | None:
    """Return the room that a module of the package stands in."""
    _, *parts = module.split(".")
    if parts[1:] and parts[1] in INNER.get(parts[0], ()):
        return ".".join(parts[:2])
    return parts[0] if parts and parts[0] in ROOMS else None


def taken_elsewhere() -> list[tuple[str, str, str]]:
    """Return each name that a module, or a page, takes from another room, with that room and who takes it."""
    found = []
    for root in (PACKAGE, PACKAGE.parent / "ui"):
        for path in sorted(root.rglob("*.py")):
            mine = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("filtration."):
                    room = room_of(node.module or "")
                    if room is not None and room != room_of(mine):
                        found += [(alias.name, room, mine) for alias in node.names]
    return found


def test_other_rooms_take_public_names_alone() -> None:
    public: dict[str, set[str]] = {}
    for room in {room for _, room, _ in taken_elsewhere()}:
        package = import_module(f"filtration.{room}")
        public[room] = {*package.__all__, *(found.name for found in iter_modules(package.__path__))}
    assert not [each for each in taken_elsewhere() if each[0] not in public[each[1]]]


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_hands_out_its_public_names_and_no_others(room: str) -> None:
    package = import_module(f"filtration.{room}")
    for name in package.__all__:
        assert getattr(package, name) is not None
    assert len(set(package.__all__)) == len(package.__all__)
    with pytest.raises(AttributeError, match="no public name 'nothing_of_it'"):
        _ = package.nothing_of_it


def test_no_folder_is_crowded_and_no_function_bears_its_modules_name() -> None:
    for folder in (PACKAGE, *(path for path in PACKAGE.rglob("*") if path.is_dir())):
        modules = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        assert len(modules) <= MOST_MODULES
        for path in modules:
            body = ast.parse(path.read_text(encoding="utf-8")).body
            assert path.stem not in {node.name for node in body if isinstance(node, ast.FunctionDef)}


def test_one_meaning_a_class_name() -> None:
    found: dict[str, list[str]] = {}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found.setdefault(node.name, []).append(path.stem)
    assert {name: paths for name, paths in found.items() if len(paths) > 1} == {}
