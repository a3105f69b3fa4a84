"""Every mutant of one module: its tree with one small fault put in."""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["compared", "reckoned", "constant", "order", "left out"]

_TABLE: Final = 8
"""Tuples of so many numbers are tables from the literature, which a test checks as a whole."""

_COMPARED: Final[Mapping[type[ast.cmpop], tuple[type[ast.cmpop], ...]]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_RECKONED: Final[Mapping[type[ast.operator], type[ast.operator]]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}


_EITHER_WAY: Final = frozenset(
    (
        "max",
        "min",
        "maximum",
        "minimum",
        "fmax",
        "fmin",
        "hypot",
        "logical_and",
        "logical_or",
        "gcd",
    )
)
"""Functions that do not care about the order of their arguments."""

_GUARDS: Final = frozenset(("strict", "encoding", "from_", "stacklevel"))
"""Options that no sound input tells from their defaults here."""


@dataclass(frozen=True)
class Mutant:
    """One fault.

    *module*: path from the repository. *place*: dotted name of the function or class that holds it.
    *old*, *new*: what stands there, before and after. *nth*: of those alike in that place. *lines*:
    first and last line of it. *at*: which node of the tree, and which fault of that node.
    """

    module: str
    place: str
    kind: Kind
    old: str
    new: str
    nth: int
    lines: tuple[int, int]
    at: tuple[int, int]

    @property
    def name(self) -> str:
        """Free of line numbers, which move."""
        again = f" ({self.nth + 1})" if self.nth else ""
        return f"{self.module} {self.place or 'module'}: {self.old} => {self.new}{again}"

    @property
    def rank(self) -> str:
        """Place in the order of a sample: by chance, and the same as long as the fault is."""
        return hashlib.sha256(self.name.encode()).hexdigest()


_Fault = tuple[Kind, str, str, Callable[[], None]]


def mutants(module: str, source: str) -> Iterator[Mutant]:
    """Every mutant of a module, in the order of its tree."""
    tree = ast.parse(source)
    places = _places(tree)
    wordings = _left_alone(tree)
    seen: dict[tuple[str, str, str], int] = {}
    for index, node in enumerate(ast.walk(tree)):
        if id(node) in wordings:
            continue
        for number, (kind, old, new, _) in enumerate(_faults(node)):
            first = getattr(node, "lineno", getattr(getattr(node, "iter", None), "lineno", 0))
            last = getattr(node, "end_lineno", first) or first
            if isinstance(node, ast.If | ast.For):
                head = node.test if isinstance(node, ast.If) else node.iter
                last = head.end_lineno or first
            place = places.get(id(node), "")
            alike = (place, old, new)
            nth = seen[alike] = seen.get(alike, -1) + 1
            yield Mutant(module, place, kind, old, new, nth, (first, last), (index, number))


def mutated(source: str, mutant: Mutant) -> ast.Module:
    """The tree of a module with a fault put in."""
    tree = ast.parse(source)
    index, number = mutant.at
    node = next(node for k, node in enumerate(ast.walk(tree)) if k == index)
    faults = list(_faults(node))
    faults[number][3]()
    return ast.fix_missing_locations(tree)


def _places(tree: ast.Module) -> dict[int, str]:
    """Dotted name of the innermost definition round each node."""
    found: dict[int, str] = {}

    def visit(node: ast.AST, place: str) -> None:
        for child in ast.iter_child_nodes(node):
            named = isinstance(child, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef)
            inner = f"{place}.{child.name}".lstrip(".") if named else place  # type: ignore[attr-defined]
            found[id(child)] = inner
            visit(child, inner)

    visit(tree, "")
    return found


def _left_alone(tree: ast.Module) -> set[int]:
    """Nodes of annotations, decorators, wording, and tables of many published numbers."""
    roots: list[ast.AST | None] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign):
            roots.append(node.annotation)
            named = ast.unparse(node.annotation)
            if "TypeAlias" in named:
                roots.append(node)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            roots += [node.returns, *(arg.annotation for arg in every), *node.decorator_list]
        elif isinstance(node, ast.ClassDef):
            roots += node.decorator_list
        elif isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert | ast.Import | ast.ImportFrom):
            roots += list(ast.iter_child_nodes(node))
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            roots += [node]
        elif isinstance(node, ast.keyword) and node.arg in _GUARDS:
            roots.append(node.value)
        elif _is_table(node) or _is_type(node):
            roots.append(node)
    # A type with its bounds: other numbers are faults, another order is no type.
    bounded = {
        id(node.slice)
        for node in ast.walk(tree)
        if isinstance(node, ast.Subscript) and ast.unparse(node.value) == "Annotated"
    }
    return bounded | {id(inner) for root in roots if root is not None for inner in ast.walk(root)}


def _is_table(node: ast.AST) -> bool:
    return isinstance(node, ast.Tuple | ast.List) and len(node.elts) >= _TABLE


def _is_type(node: ast.AST) -> bool:
    """Whether a node says a type: a call that does, or `Outline = Curve | Path`."""
    if isinstance(node, ast.Call):
        return ast.unparse(node.func) in ("cast", "Field", "TypeVar")
    if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
        return False
    name = node.targets[0].id
    return name[:1].isupper() and not name.isupper() and not _holds_numbers(node.value)


def _holds_numbers(node: ast.AST) -> bool:
    return any(
        isinstance(inner, ast.Constant) and isinstance(inner.value, int | float)
        for inner in ast.walk(node)
    )


def _faults(node: ast.AST) -> Iterator[_Fault]:
    """The faults that a node can have; each is put in by calling its last part."""

    def put(kind: Kind, change: Callable[[], None], old: str, new: str) -> _Fault:
        return kind, _short(old), _short(new), change

    def set_to(name: str, value: object) -> Callable[[], None]:
        return lambda: setattr(node, name, value)

    def become(other: ast.AST) -> Callable[[], None]:
        def change() -> None:
            node.__class__ = other.__class__  # type: ignore[assignment]
            for field in other._fields:
                setattr(node, field, getattr(other, field))

        return change

    old = ast.unparse(node) if isinstance(node, ast.expr | ast.stmt) else ""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for swapped in _COMPARED[type(node.ops[0])]:
            other = ast.Compare(node.left, [swapped()], node.comparators)
            yield put("compared", set_to("ops", [swapped()]), old, ast.unparse(other))
    elif isinstance(node, ast.BoolOp):
        op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield put("compared", set_to("op", op), old, ast.unparse(ast.BoolOp(op, node.values)))
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        kind: Kind = "reckoned" if isinstance(node.op, ast.USub) else "compared"
        yield put(kind, become(node.operand), old, ast.unparse(node.operand))
    elif isinstance(node, ast.BinOp) and type(node.op) in _RECKONED:
        op = _RECKONED[type(node.op)]()
        new = ast.unparse(ast.BinOp(node.left, op, node.right))
        yield put("reckoned", set_to("op", op), old, new)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
        other_value = _other(node.value)
        yield put("constant", set_to("value", other_value), old, repr(other_value))
    elif isinstance(node, ast.Call):
        two = node.args[:2]
        if len(two) == 2 and not any(isinstance(arg, ast.Starred) for arg in two):
            swapped_args = [*two[::-1], *node.args[2:]]
            named = ast.unparse(node.func).rpartition(".")[2]
            if ast.dump(two[0]) != ast.dump(two[1]) and named not in _EITHER_WAY:
                new = ast.unparse(ast.Call(node.func, swapped_args, node.keywords))
                yield put("order", set_to("args", swapped_args), old, new)
        if node.keywords and node.keywords[-1].arg not in _GUARDS:
            fewer = node.keywords[:-1]
            new = ast.unparse(ast.Call(node.func, node.args, fewer))
            yield put("left out", set_to("keywords", fewer), old, new)
    elif isinstance(node, ast.Tuple | ast.List) and isinstance(node.ctx, ast.Load):
        yield from _of_elements(node, old, put, set_to)
    elif isinstance(node, ast.comprehension | ast.For):
        shorter = ast.Subscript(
            ast.Call(ast.Name("tuple", ast.Load()), [node.iter], []),
            ast.Slice(None, ast.UnaryOp(ast.USub(), ast.Constant(1)), None),
            ast.Load(),
        )
        words = f"for {ast.unparse(node.target)} in {ast.unparse(node.iter)}"
        new = f"for {ast.unparse(node.target)} in all but the last"
        yield put("order", set_to("iter", shorter), words, new)
    elif isinstance(node, ast.If):
        words = f"if {ast.unparse(node.test)}"
        for value in (True, False):
            yield put("compared", set_to("test", ast.Constant(value)), words, f"if {value}")
    elif _is_deed(node):
        yield put("left out", become(ast.Pass()), old, "pass")


def _is_deed(node: ast.AST) -> bool:
    """Whether a statement is there for what it does to something."""
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Call)
    if isinstance(node, ast.Assign):
        return isinstance(node.targets[0], ast.Attribute | ast.Subscript)
    return isinstance(node, ast.AugAssign | ast.Continue)


def _of_elements(
    node: ast.Tuple | ast.List,
    old: str,
    put: Callable[[Kind, Callable[[], None], str, str], _Fault],
    set_to: Callable[[str, object], Callable[[], None]],
) -> Iterator[_Fault]:
    elements = node.elts
    if len(elements) < 2 or any(isinstance(item, ast.Starred) for item in elements[:2]):
        return
    swapped = [elements[1], elements[0], *elements[2:]]
    if ast.dump(elements[0]) != ast.dump(elements[1]):
        yield put("order", set_to("elts", swapped), old, ast.unparse(ast.List(swapped, node.ctx)))
    fewer = elements[:-1]
    yield put("order", set_to("elts", fewer), old, ast.unparse(ast.List(fewer, node.ctx)))


def _other(value: float) -> float:
    """Another number: one more, twice a large one, or a tolerance a hundred times as large."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, float) and 0.0 < abs(value) < 0.01:
        return 100.0 * value
    return 2 * value if abs(value) > 10 else value + 1


def _short(text: str) -> str:
    line = " ".join(text.split())
    return (
        line
        if len(line) <= 160
        else f"{line[:140]}... {hashlib.md5(line.encode()).hexdigest()[:6]}"
    )
