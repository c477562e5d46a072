"""Small wrongs that a rule may be given, one at a time: what `mutation.py` asks the tests to notice.

A mutant is one change of the syntax tree: a comparison moved by its boundary or turned round; a number that is one more
or twice as much; `and` for `or`; a condition or a sign turned; plus for minus and the like; `min` for `max`; another
verdict in the place of a word such as "with-care"; a statement left out. What only people read (sentences), what only
types are, and assertions are left alone.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import CodeType

OTHER_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
OTHER_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv, ast.LShift: ast.RShift, ast.RShift: ast.LShift, ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitOr,
}  # fmt: skip
OTHER_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}
VERDICT = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True)
class Mutant:
    """One changed place.

    Attributes:
        function: In which function, with the class and the function around it; "" at the top of the module.
        line: Where.
        lines: The first and the last line of the statement's own text, without what stands in its body.
        before: The text that is changed: as much as is found only once in the function.
        after: What it is changed to.
        change: Puts it into the tree, and returns what takes it out.
    """

    function: str
    line: int
    lines: tuple[int, int]
    before: str
    after: str
    change: Callable[[], Callable[[], None]]


class Module:
    """The syntax tree of one module, and what can be changed in it.

    Example:
        >>> for one in Module("def fits(size, room):\\n    return size <= room\\n").mutants:
        ...     print(one.function, one.line, one.before, "->", one.after)
        fits 2 size <= room -> size < room
        fits 2 size <= room -> size > room
    """

    def __init__(self, source: str, name: str = "module.py") -> None:
        self.tree, self.name = ast.parse(source), name
        self.parents = {child: node for node in ast.walk(self.tree) for child in ast.iter_child_nodes(node)}
        self.mutants = tuple(self._mutants())

    def code(self, mutant: Mutant) -> CodeType:
        """Compile the module with one mutant in it."""
        with _within(mutant.change):
            return compile(self.tree, self.name, "exec")

    def _mutants(self) -> Iterator[Mutant]:
        for node in ast.walk(self.tree):
            if isinstance(node, ast.expr | ast.stmt) and not self._left_alone(node):
                for change in self._changes(node):
                    yield self._mutant(node, change)

    def _mutant(self, node: ast.AST, change: Callable[[], Callable[[], None]]) -> Mutant:
        around = [node, *self._around(node)]
        function = next((one for one in around if isinstance(one, ast.FunctionDef)), self.tree)
        within = around[: around.index(function)] if function in around else around[:-1]
        statement = next(one for one in around if isinstance(one, ast.stmt))
        every = [_text(one) for one in ast.walk(function) if isinstance(one, ast.expr | ast.stmt)]
        for shown in within:
            if isinstance(shown, ast.expr | ast.stmt) and every.count(_text(shown)) == 1:
                break
            if shown is statement:
                break
        before = _text(shown)
        parent = self.parents[shown]
        with _within(change):
            # a statement is replaced in its parent's list; an expression is changed within, or replaced in its parent's
            after = self._text_now(shown, parent)
        names = [one.name for one in reversed(around) if isinstance(one, ast.FunctionDef | ast.ClassDef)]
        last = statement.end_lineno or statement.lineno
        body = getattr(statement, "body", None)
        if body:
            last = max(statement.lineno, body[0].lineno - 1)
        return Mutant(".".join(names), node.lineno, (statement.lineno, last), before, after, change)  # type: ignore[attr-defined]

    def _text_now(self, shown: ast.AST, parent: ast.AST) -> str:
        field, at = self._place(shown)
        value = getattr(parent, field)
        return _text(value if at is None else value[at])

    def _place(self, node: ast.AST) -> tuple[str, int | None]:
        return self._places[node]

    @property
    def _places(self) -> dict[ast.AST, tuple[str, int | None]]:
        if not hasattr(self, "_found"):
            self._found: dict[ast.AST, tuple[str, int | None]] = {}
            for node in ast.walk(self.tree):
                for field, value in ast.iter_fields(node):
                    if isinstance(value, ast.AST):
                        self._found[value] = (field, None)
                    elif isinstance(value, list):
                        self._found.update({one: (field, i) for i, one in enumerate(value) if isinstance(one, ast.AST)})
        return self._found

    def _around(self, node: ast.AST) -> Iterator[ast.AST]:
        while node in self.parents:
            node = self.parents[node]
            yield node

    def _left_alone(self, node: ast.AST) -> bool:
        """Whether no rule is in it: types, decorators, assertions, the widths of printed numbers, documentation."""
        inner = node
        for outer in self._around(node):
            if isinstance(outer, ast.Assert | ast.Import | ast.ImportFrom):
                return True
            if isinstance(outer, ast.FunctionDef) and (inner in outer.decorator_list or inner is outer.returns):
                return True
            if isinstance(outer, ast.ClassDef) and inner in (*outer.decorator_list, *outer.bases, *outer.keywords):
                return True
            if isinstance(outer, ast.arg | ast.AnnAssign) and inner is outer.annotation:
                return True
            if isinstance(outer, ast.FormattedValue) and inner is outer.format_spec:
                return True
            if isinstance(outer, ast.keyword) and outer.arg == "strict":
                return True
            called = outer.value if isinstance(outer, ast.Subscript) else getattr(outer, "func", None)
            if isinstance(called, ast.Name) and called.id in ("Literal", "cast", "TypeVar"):
                return True
            inner = outer
        return False

    def _changes(self, node: ast.AST) -> Iterator[Callable[[], Callable[[], None]]]:
        put = self._put
        match node:
            case ast.Compare():
                for at, was in enumerate(node.ops):
                    for other in OTHER_COMPARISONS[type(was)]:
                        yield put(node, ast.Compare(node.left, _with(node.ops, at, other()), node.comparators))
            case ast.BoolOp():
                other_op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
                yield put(node, ast.BoolOp(other_op, node.values))
            case ast.BinOp() if type(node.op) in OTHER_OPERATORS and not _joins(node):
                yield put(node, ast.BinOp(node.left, OTHER_OPERATORS[type(node.op)](), node.right))
            case ast.UnaryOp(ast.Not() | ast.USub(), operand):
                yield put(node, operand)
            case ast.Call(ast.Name(name), arguments, keywords) if name in OTHER_CALLS:
                yield put(node, ast.Call(ast.Name(OTHER_CALLS[name], ast.Load()), arguments, keywords))
            case ast.Constant(bool(value)):
                yield put(node, ast.Constant(not value))
            case ast.Constant(int(value)):
                yield put(node, ast.Constant(value + 1))
            case ast.Constant(float(value)):
                yield put(node, ast.Constant(value * 2 or 1.0))
            case ast.Constant(str(value)) if VERDICT.fullmatch(value) and self._is_verdict(node):
                yield put(node, ast.Constant(f"not-{value}"))
            case ast.AugAssign():
                if type(node.op) in OTHER_OPERATORS and not _joins(ast.BinOp(node.target, node.op, node.value)):
                    yield put(node, ast.AugAssign(node.target, OTHER_OPERATORS[type(node.op)](), node.value))
                yield put(node, ast.Pass())
            case ast.Continue() | ast.Break() | ast.Raise() | ast.Return(None):
                yield put(node, ast.Pass())
            case ast.Expr(value) if not isinstance(value, ast.Constant):
                yield put(node, ast.Pass())
        for test in _conditions(node):
            typing = isinstance(test, ast.Name) and test.id == "TYPE_CHECKING"
            if not typing and not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp | ast.Constant):
                yield put(test, ast.UnaryOp(ast.Not(), test))

    def _is_verdict(self, node: ast.Constant) -> bool:
        """Whether a word is an answer and not part of a sentence, the name of a field, or what is compared with."""
        parent = self.parents[node]
        if isinstance(parent, ast.Compare | ast.Subscript | ast.Attribute | ast.Expr):
            return False
        if isinstance(parent, ast.Dict) and node in parent.keys:
            return False
        around = list(self._around(node))
        if isinstance(parent, ast.Call) and isinstance(parent.func, ast.Attribute):
            return False   # a method's option, such as the name of an encoding
        return not any(isinstance(one, ast.JoinedStr) for one in around)

    def _put(self, node: ast.AST, other: ast.expr | ast.stmt) -> Callable[[], Callable[[], None]]:
        parent = self.parents[node]
        field, at = self._place(node)
        ast.copy_location(other, node)

        def change() -> Callable[[], None]:
            if at is None:
                setattr(parent, field, other)
                ast.fix_missing_locations(self.tree)
                return lambda: setattr(parent, field, node)
            held = getattr(parent, field)
            held[at] = other
            ast.fix_missing_locations(self.tree)
            return lambda: held.__setitem__(at, node)

        return change


def _conditions(node: ast.AST) -> list[ast.expr]:
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        return [node.test]
    if isinstance(node, ast.ListComp | ast.SetComp | ast.DictComp | ast.GeneratorExp):
        return [test for one in node.generators for test in one.ifs]
    return []


def _joins(node: ast.BinOp) -> bool:
    """Whether it joins texts, bytes, lists or types, where another operator would only be an error."""
    kinds = (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp)
    for side in (node.left, node.right):
        if isinstance(side, kinds) or (isinstance(side, ast.Constant) and isinstance(side.value, str | bytes)):
            return True
    return False


def _with(ops: list[ast.cmpop], at: int, other: ast.cmpop) -> list[ast.cmpop]:
    return [*ops[:at], other, *ops[at + 1 :]]


def _text(node: ast.AST) -> str:
    """Write a node down, a compound statement without its body."""
    if isinstance(node, ast.If | ast.While):
        return f"{type(node).__name__.lower()} {ast.unparse(node.test)}"
    if isinstance(node, ast.For):
        return f"for {ast.unparse(node.target)} in {ast.unparse(node.iter)}"
    if isinstance(node, ast.With):
        return f"with {', '.join(ast.unparse(one) for one in node.items)}"
    if isinstance(node, ast.FunctionDef):
        return f"def {node.name}({ast.unparse(node.args)})"
    if isinstance(node, ast.ClassDef):
        return f"class {node.name}"
    return ast.unparse(node)


@contextmanager
def _within(change: Callable[[], Callable[[], None]]) -> Iterator[None]:
    undo = change()
    try:
        yield
    finally:
        undo()
