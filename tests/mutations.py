"""What `make mutate` changes: one token of Python or of a template at a time. Pure; nothing is written.

Words are left alone (strings, documentation, annotations), and what a gate of its own holds: the fields of
tables (`make migrations`), dataclass options, caches.
"""

from __future__ import annotations

import ast
import copy
import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

BORDERS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
SUMS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
}
LET_BE = re.compile(
    r"dataclass|property|classmethod|staticmethod|cache|overload|register|override|wraps|contextmanager"
)
FIELDS = re.compile(r"^(models\.|Meta$)")
TAG = re.compile(r"{%-?\s*(if|elif)\s+(.+?)\s*%}|{{\s*(.+?)\s*}}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change of one file."""

    file: str  # from the checkout's root
    place: str  # the function or class, by its dotted name; "" for the module; a template has none
    change: str  # "before → after"
    nth: int  # of the same change at the same place
    lines: tuple[int, int]  # what a test must reach to meet it; (0, 0): whatever reaches the file
    unit: str  # digest of the text of the place: a result holds while it stands
    site: int  # which of the file's changes, in the order of `mutants_of`

    @property
    def name(self) -> str:
        return f"{self.file}|{self.place}|{self.change}|{self.nth}"


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def mutants_of(file: str, text: str) -> list[Mutant]:
    found = _in_template(text) if file.endswith(".html") else _in_python(text)
    seen: dict[tuple[str, str], int] = {}
    made = []
    for i, (place, change, lines, unit) in enumerate(found):
        nth = seen[place, change] = seen.get((place, change), 0) + 1
        made.append(
            Mutant(file=file, place=place, change=change, nth=nth, lines=lines, unit=unit, site=i)
        )
    return made


# Python


def mutated_tree(text: str, site: int) -> ast.Module:
    """The module with one change made."""
    tree = ast.parse(text)
    for i, (*_, apply) in enumerate(_changes(tree)):
        if i == site:
            apply()
            return ast.fix_missing_locations(tree)
    raise IndexError(f"site: expected one of the file's changes, got {site}.")


def _in_python(text: str) -> Iterator[tuple[str, str, tuple[int, int], str]]:
    tree = ast.parse(text)
    whole: dict[int, str] = {}
    for path, lines, unit, before, after, _ in _changes(tree):
        mark = whole.setdefault(id(unit), digest(ast.unparse(unit)))
        yield path, f"{before} → {after}", lines, mark


Change = tuple[str, tuple[int, int], ast.AST, str, str, Callable[[], None]]


def _changes(tree: ast.Module) -> Iterator[Change]:
    yield from _walk(tree, "", tree, (0, 0))


def _walk(node: ast.AST, path: str, unit: ast.AST, lines: tuple[int, int]) -> Iterator[Change]:
    """Every change below `node`; `lines` are what its nearest statement inside a function covers."""
    for name, value in ast.iter_fields(node):
        for i, child in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(child, ast.AST) or _let_be(node, name, child):
                continue
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                below = f"{path}.{child.name}".lstrip(".")
                inner = child if isinstance(unit, ast.Module) else unit
                yield from _decorators(child, below, inner)
                yield from _walk(child, below, inner, _body(child) if isinstance(child, ast.FunctionDef) else (0, 0))  # fmt: skip
                continue
            within = lines
            if lines != (0, 0) and isinstance(child, ast.stmt | ast.expr):
                within = _own(child, lines)
            yield from _of(node, name, i, child, path, unit, within)
            yield from _walk(child, path, unit, within)


def _body(function: ast.FunctionDef) -> tuple[int, int]:
    return function.body[0].lineno, function.end_lineno or function.lineno


def _own(child: ast.stmt | ast.expr, lines: tuple[int, int]) -> tuple[int, int]:
    """A compound statement is reached by its head; everything else by its own lines."""
    if isinstance(child, ast.stmt) and hasattr(child, "body"):
        return child.lineno, child.lineno
    if child.lineno < lines[0] and isinstance(child, ast.expr):
        return lines  # a default, a decorator: what enters the body meets it
    return child.lineno, child.end_lineno or child.lineno


def _let_be(node: ast.AST, name: str, child: ast.AST) -> bool:
    if name in ("annotation", "returns", "decorator_list", "type_params", "format_spec"):
        return True
    if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
        return True
    if isinstance(node, ast.ClassDef) and isinstance(child, ast.ClassDef) and child.name == "Meta":
        return True
    return (
        isinstance(node, ast.ClassDef)
        and isinstance(child, ast.Assign | ast.AnnAssign)
        and isinstance(child.value, ast.Call)
        and bool(FIELDS.match(ast.unparse(child.value.func)))
    )


def _decorators(
    child: ast.FunctionDef | ast.ClassDef, path: str, unit: ast.AST
) -> Iterator[Change]:
    lines = _body(child) if isinstance(child, ast.FunctionDef) else (0, 0)
    for decorator in list(child.decorator_list):
        text = ast.unparse(decorator)
        if not LET_BE.search(text):
            yield path, lines, unit, f"@{text}", "none", lambda d=decorator: child.decorator_list.remove(d)  # type: ignore[misc]  # fmt: skip


def _of(
    node: ast.AST, name: str, i: int, child: ast.AST, path: str, unit: ast.AST, lines: tuple[int, int]
) -> Iterator[Change]:  # fmt: skip
    turned = [ast.UnaryOp(ast.Not(), child)] if name in ("test", "ifs") and _is_plain(child) else []
    for new in (*_instead(child), *turned):
        before, after = ast.unparse(child), ast.unparse(new)
        yield path, lines, unit, before, after, lambda n=new: _put(node, name, i, n)  # type: ignore[misc]


def _put(node: ast.AST, name: str, i: int, new: ast.AST) -> None:
    value = getattr(node, name)
    if isinstance(value, list):
        value[i] = new
    else:
        setattr(node, name, new)


def _instead(node: ast.AST) -> Iterator[ast.AST]:
    """What can stand instead of a node."""
    match node:
        case ast.Compare(ops=ops):
            for i, op in enumerate(ops):
                if type(op) in BORDERS:
                    new = copy.deepcopy(node)
                    new.ops[i] = BORDERS[type(op)]()
                    yield new
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in SUMS and not _words(node):
            yield ast.BinOp(left, SUMS[type(op)](), right)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield operand
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            yield ast.Constant(value + 1)
            yield ast.Constant(value - 1)
        case ast.Return(value=value) if value and not _is_none(value):
            yield ast.Return(ast.Constant(None))


def _words(node: ast.BinOp) -> bool:
    return any(
        isinstance(n, ast.JoinedStr) or (isinstance(n, ast.Constant) and isinstance(n.value, str))
        for n in (node.left, node.right)
    )


def _is_plain(node: ast.AST) -> bool:
    """A condition that no other change turns round."""
    return isinstance(node, ast.Name | ast.Attribute | ast.Call | ast.NamedExpr | ast.Subscript)


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


# Templates


def mutated_template(text: str, site: int) -> str:
    start, end, new, *_ = list(_tags(text))[site]
    return text[:start] + new + text[end:]


def _in_template(text: str) -> Iterator[tuple[str, str, tuple[int, int], str]]:
    for start, end, new, line in _tags(text):
        around = text.splitlines()[max(0, line - 2) : line + 1]
        yield "", f"{text[start:end]} → {new or 'nothing'}", (line, line), digest("\n".join(around))


def _tags(text: str) -> Iterator[tuple[int, int, str, int]]:
    """Conditions always true or one term turned round; values left out."""
    for found in TAG.finditer(text):
        line = text.count("\n", 0, found.start()) + 1
        _, condition, value = found.groups()
        if value and not value.startswith("csrf"):
            yield *found.span(), "", line
        if condition:
            yield *found.span(2), "1", line
            for term in _terms(condition):
                at = found.start(2) + term.start()
                inner = term.group().strip()
                turned = inner.removeprefix("not ") if inner.startswith("not ") else f"not {inner}"
                yield at, at + len(term.group().rstrip()), turned, line


def _terms(condition: str) -> Iterator[re.Match[str]]:
    return re.finditer(r"(?:^|(?<= and )|(?<= or ))\S.*?(?= and | or |$)", condition)
