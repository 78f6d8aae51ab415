"""What can be changed in a file, one small fault at a time, as a slip of the hand would: in the text as it stands.

Left alone are annotations, docstrings, decorators, the words of faults that are raised, sizes of things drawn, and
whether rows that are as long must be.
"""

import ast
import copy
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

_OPERATORS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_PAIRS = (("minimum", "maximum"), ("min", "max"), ("any", "all"), ("ceil", "floor"), ("first", "last"), ("low", "high"))
_NAMES = {one: other for pair in _PAIRS for one, other in (pair, pair[::-1])}
_LISTS: Mapping[type[ast.AST], str] = {ast.Dict: "values", ast.Tuple: "elts", ast.List: "elts"}
_DRAWN = re.compile(
    "width|height|size|opacity|stroke|dash|offset|pad|font|radius|angle|dx|dy|gap|limit|zindex|columns|step|scale_factor",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\W\d_]{2,}")
_TOLD = 48
"""Letters of a change that are told."""

Twins = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of a file: bytes from a start to an end become others; ``lines`` are those of its statement."""

    file: str
    line: int
    lines: range
    told: str
    start: int
    end: int
    text: str
    in_function: bool

    def changed(self, source: bytes) -> bytes:
        """Return the source with the change."""
        return source[: self.start] + self.text.encode() + source[self.end :]

    def parses(self, source: bytes) -> bool:
        """Return whether the source with the change is a program still."""
        try:
            compile(self.changed(source), self.file, "exec")
        except (SyntaxError, ValueError):
            return False
        return True


def twins_of(files: Sequence[Path]) -> dict[str, str]:
    """Return for each field of a class the next one of the same type: what it is taken for by mistake."""
    found: dict[str, str] = {}
    for node in (node for file in files for node in ast.walk(ast.parse(file.read_bytes()))):
        by_type: dict[str, list[str]] = {}
        for each in node.body if isinstance(node, ast.ClassDef) else ():
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name):
                by_type.setdefault(ast.unparse(each.annotation), []).append(each.target.id)
        for names in by_type.values():
            for name, after in pairwise([*names, names[0]]):
                if after != name:
                    found.setdefault(name, after)
    return found


def _operators(node: ast.AST, _: Twins) -> Iterator[ast.AST]:
    """Yield another operator or comparison, or none where one stands before a value."""
    if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in _OPERATORS:
        yield _with(node, "op", _OPERATORS[type(node.op)]())
    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            yield _with(node, "ops", [*node.ops[:at], _OPERATORS[type(operator)](), *node.ops[at + 1 :]])
    if isinstance(node, ast.UnaryOp):
        yield node.operand
    if isinstance(node, ast.IfExp):
        yield ast.IfExp(node.test, node.orelse, node.body)


def _values(node: ast.AST, _: Twins) -> Iterator[ast.AST]:
    """Yield another number, the other truth, a text with a word less."""
    value = node.value if isinstance(node, ast.Constant) else None
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int | float):
        yield ast.Constant(value + 1 if isinstance(value, int) else value * 1.3 + 0.1)
    elif isinstance(value, str) and value.strip():
        words = list(_WORD.finditer(value))
        less = words[len(words) // 2] if len(words) > 1 else None
        yield ast.Constant(value[: less.start()] + value[less.end() :] if less else f"{value}x")


def _names(node: ast.AST, twins: Twins) -> Iterator[ast.AST]:
    """Yield the name that is taken for another."""
    if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
        instead = _NAMES.get(node.attr) or (twins.get(node.attr) if "_" in node.attr else None)
        if instead:
            yield _with(node, "attr", instead)
    if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id in _NAMES:
        yield _with(node, "id", _NAMES[node.id])


def _neighbours(node: ast.AST, _: Twins) -> Iterator[ast.AST]:
    """Yield a row of things alike with two neighbours in each other's place."""
    name = _LISTS.get(type(node))
    if name is None or not isinstance(getattr(node, "ctx", ast.Load()), ast.Load):
        return
    some = getattr(node, name)
    for at, (one, other) in enumerate(pairwise(some)):
        if type(one) is type(other) and ast.dump(one) != ast.dump(other) and not isinstance(one, ast.Starred):
            yield _with(node, name, [*some[:at], other, one, *some[at + 2 :]])


def _sentences(node: ast.AST, _: Twins) -> Iterator[ast.AST]:
    """Yield a sentence with two figures in each other's place, or with one told without its format."""
    if not isinstance(node, ast.JoinedStr):
        return
    shown = [(at, part) for at, part in enumerate(node.values) if isinstance(part, ast.FormattedValue)]
    for (at, one), (then, other) in pairwise(shown):
        changed = list(node.values)
        changed[at], changed[then] = _with(one, "value", other.value), _with(other, "value", one.value)
        yield _with(node, "values", changed)
    for at, part in shown:
        if part.format_spec is not None:
            bare = _with(part, "format_spec", None)
            yield _with(node, "values", [*node.values[:at], bare, *node.values[at + 1 :]])


_KINDS = (_operators, _values, _names, _neighbours, _sentences)


def _with(node: Any, name: str, value: Any) -> Any:
    """Return a node with one field changed."""
    changed = copy.copy(node)
    setattr(changed, name, value)
    return changed


def _never_run(node: ast.AST) -> Iterator[ast.AST | None]:
    """Yield the parts of a node that are no work of the program: annotations, docstrings, what is public."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        yield from node.decorator_list
    if isinstance(node, ast.FunctionDef):
        yield node.returns
    elif isinstance(node, ast.ClassDef):
        yield from node.bases
    elif isinstance(node, ast.arg | ast.AnnAssign):
        yield node.annotation
    elif (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)) or (
        isinstance(node, ast.Assign) and re.match(r"__all__|.* = .*(Literal|Callable|Mapping)\[", ast.unparse(node))
    ):
        yield node.value
    elif isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        yield from (node.test, *node.body)


def _never_seen(node: ast.AST) -> Iterator[ast.AST | None]:
    """Yield the parts of a node that no test need see: the words of a fault, sizes of what is drawn, patterns."""
    if isinstance(node, ast.Call):
        named = ast.unparse(node.func)
        yield from node.args[:1] if named == "cast" else node.args if named.endswith(("Error", "TypeVar")) else ()
    elif isinstance(node, ast.keyword) and isinstance(node.value, ast.Constant):
        yield from [node.value] if _DRAWN.search(node.arg or "") or node.arg == "strict" else ()  # rows are as long
    elif isinstance(node, ast.match_case):
        yield node.pattern


class _Finder(ast.NodeVisitor):
    """Walks a file and notes what can be changed."""

    def __init__(self, source: bytes, file: str, twins: Twins) -> None:
        self.file, self.twins, self.found = file, twins, list[Mutant]()
        self.starts = [0]
        for line in source.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))
        self.statement: Any = None
        self.sentence: ast.JoinedStr | None = None
        self.inside = False

    def generic_visit(self, node: ast.AST) -> None:
        """Note the changes of a node, then of what is in it."""
        outer = self.statement, self.sentence, self.inside
        if isinstance(node, ast.stmt):
            self.statement = node
        self._note(node)
        if self.sentence is None and isinstance(node, ast.JoinedStr):
            self.sentence = node
        self.inside |= isinstance(node, ast.FunctionDef | ast.Lambda)
        left_alone = {id(each) for part in (_never_run, _never_seen) for each in part(node)}
        for child in ast.iter_child_nodes(node):
            if id(child) not in left_alone:
                self.visit(child)
        self.statement, self.sentence, self.inside = outer

    def _note(self, node: Any) -> None:
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call) and self.inside:
            self._add(node, "None", f"left out: {_short(node)}")
        if isinstance(node, ast.expr):
            for changed in (each for kind in _KINDS for each in kind(node, self.twins)):
                whole = self.sentence or node
                new = copy.deepcopy(whole, {id(node): changed}) if self.sentence else changed
                self._add(whole, f"({ast.unparse(new)})", f"{_short(node)} -> {_short(changed)}")

    def _add(self, whole: Any, text: str, told: str) -> None:
        start = self.starts[whole.lineno - 1] + whole.col_offset
        end = self.starts[whole.end_lineno - 1] + whole.end_col_offset
        lines = range(self.statement.lineno, (self.statement.end_lineno or 0) + 1)
        self.found.append(Mutant(self.file, whole.lineno, lines, told, start, end, text, self.inside))


def _short(node: ast.AST) -> str:
    text = ast.unparse(node)
    return text if len(text) <= _TOLD else f"{text[:_TOLD]}…"


def mutants_of(path: Path, file: str, twins: Twins) -> list[Mutant]:
    """Return all that can be changed in a file, which is named so."""
    source = path.read_bytes()
    finder = _Finder(source, file, twins)
    finder.visit(ast.parse(source))
    return finder.found
