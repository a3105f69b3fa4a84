"""Every mutant of one module: its source with one small fault put in."""

from __future__ import annotations

import ast
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from .putting_in import in_a_body

_SWAPS: Final = ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Div", "Mod_Div", "Pow_Mul")
_SET_SWAPS: Final = ("BitOr_BitAnd", "BitAnd_BitOr")
_COMPARISONS: Final = (
    *("Lt_LtE", "Lt_GtE", "LtE_Lt", "LtE_Gt", "Gt_GtE", "Gt_LtE", "GtE_Gt", "GtE_Lt"),
    *("Eq_NotEq", "NotEq_Eq", "Is_IsNot", "IsNot_Is"),
)
_UNARY: Final = ("Delete_USub", "Delete_Not", "Delete_Invert")
_OTHERS: Final = (
    *("NumberReplacer", "AddNot", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue"),
    *("ReplaceAndWithOr", "ReplaceOrWithAnd", "ReplaceBreakWithContinue"),
    *("ReplaceContinueWithBreak", "ZeroIterationForLoop", "ExceptionReplacer", "RemoveDecorator"),
)
OPERATORS: Final = (
    *(f"ReplaceBinaryOperator_{swap}" for swap in (*_SWAPS, *_SET_SWAPS)),
    *(f"ReplaceComparisonOperator_{swap}" for swap in _COMPARISONS),
    *(f"ReplaceUnaryOperator_{swap}" for swap in _UNARY),
    *_OTHERS,
)
"""cosmic-ray's operators without those that any run would notice: a float is never shifted by
bits, and one wrong arithmetic sign or one wrong comparison stands for the others."""

_TABLE: Final = 8
"""Tuples of so many numbers are tables from the literature, which a test checks as a whole."""


@dataclass(frozen=True)
class Mutant:
    """One fault.

    Parameters
    ----------
    place : str
        Function or class that holds it, dotted; empty for the module itself.
    old, new : str
        The line before and after, without indentation.
    source : str
        The whole module with the fault.
    in_body : bool
        Whether it lies in the body of a function.
    """

    place: str
    old: str
    new: str
    source: str
    in_body: bool

    @property
    def name(self) -> str:
        """What the list of survivors calls it: free of line numbers, which move."""
        return f"{self.place or 'module'}: {self.old} => {self.new}"


def mutants(path: Path) -> list[Mutant]:
    """Every mutant of a module that compiles, in the order of the operators above.

    Signatures are left alone but for their defaults: nothing evaluates an annotation.
    """
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    idle = list(_idle(tree))
    signatures = list(_signatures(tree))
    found = []
    for name in OPERATORS:
        operator = get_operator(f"core/{name}")()
        positions = [
            start
            for node in ast_nodes(get_ast(source))
            for start, _ in operator.mutation_positions(node)
        ]
        for occurrence, start in enumerate(positions):
            if _within(start, idle) or _within(start, signatures):
                continue
            changed = mutate_code(source, operator, occurrence)
            if changed is not None and changed != source and _compiles(changed):
                old, new = _lines(source, changed)
                place, in_body = _place(tree, start[0]), in_a_body(tree, *start)
                found.append(Mutant(place, old, new, changed, in_body))
    return found


_Span = tuple[tuple[int, int], tuple[int, int]]


def _within(place: tuple[int, int], spans: list[_Span]) -> bool:
    return any(low <= place < high for low, high in spans)


def _span(node: ast.expr) -> _Span:
    end = node.end_lineno or node.lineno, node.end_col_offset or node.col_offset
    return (node.lineno, node.col_offset), end


def _idle(tree: ast.Module) -> Iterator[_Span]:
    """Where fields and variables say their types, and tables of many published numbers."""
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign):
            yield _span(node.annotation)
        if isinstance(node, ast.Tuple) and len(node.elts) >= _TABLE:
            yield _span(node)


def _signatures(tree: ast.Module) -> Iterator[_Span]:
    """From the name of each function to its body, the defaults cut out."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef):
            continue
        at = node.lineno, node.col_offset
        values = [d for d in (*node.args.defaults, *node.args.kw_defaults) if d is not None]
        for low, high in sorted(_span(value) for value in values):
            yield at, low
            at = high
        yield at, (node.body[0].lineno, node.body[0].col_offset)


def _compiles(source: str) -> bool:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            compile(source, "mutant", "exec")
    except SyntaxError:
        return False
    return True


def _place(tree: ast.Module, line: int) -> str:
    """Dotted name of the innermost definition round a line, its decorators included."""
    names: list[str] = []
    body = tree.body
    while True:
        for node in body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef):
                continue
            first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            if first <= line <= (node.end_lineno or node.lineno):
                names.append(node.name)
                body = node.body
                break
        else:
            return ".".join(names)


def _lines(before: str, after: str) -> tuple[str, str]:
    """The lines in which two texts differ."""
    one, two = before.splitlines(), after.splitlines()
    head = 0
    while one[head] == two[head]:
        head += 1
    tail = 0
    while tail < min(len(one), len(two)) - head and one[-1 - tail] == two[-1 - tail]:
        tail += 1
    old, new = (
        " ".join(line.strip() for line in text[head : len(text) - tail]) for text in (one, two)
    )
    return old, new
