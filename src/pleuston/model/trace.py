"""Turn plain NumPy-style functions into an expression graph, and differentiate it.

A `Node` stands for a number that is not known yet. It follows NumPy's own
protocols (`__array_ufunc__`, `__array_function__`), so calling an equation of
`chemistry`, `biology` or `model.rows` with nodes instead of floats records what
the equation does. Equal expressions are one node; constants are folded; `a / b`
becomes `a * (1 / b)`, so that a shared denominator is divided once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from pleuston.base.errors import ModelError

UNARY: dict[str, Callable[[float], float]] = {
    "exp": math.exp,
    "log": math.log,
    "sqrt": math.sqrt,
    "reciprocal": lambda x: 1.0 / x,
    "negative": lambda x: -x,
    "absolute": abs,
}
BINARY: dict[str, Callable[[float, float], float]] = {
    "add": lambda a, b: a + b,
    "subtract": lambda a, b: a - b,
    "multiply": lambda a, b: a * b,
    "maximum": max,
    "minimum": min,
}
COMPARE: dict[str, Callable[[float, float], bool]] = {
    "greater": lambda a, b: a > b,
    "greater_equal": lambda a, b: a >= b,
    "less": lambda a, b: a < b,
    "less_equal": lambda a, b: a <= b,
}
LOGICAL = ("logical_and", "logical_or", "bitwise_and", "bitwise_or")
SAME = {"bitwise_and": "logical_and", "bitwise_or": "logical_or"}


class Node:
    """One value of the graph: an input, a constant, or an operation on others."""

    __slots__ = ("args", "graph", "index", "name", "op", "value")

    def __init__(
        self, graph: Graph, op: str, args: tuple[Node, ...], value: float, name: str, index: int
    ) -> None:
        self.graph = graph
        self.op = op
        self.args = args
        self.value = value
        self.name = name
        self.index = index

    def __repr__(self) -> str:
        inner = self.name or (repr(self.value) if self.op == "const" else "")
        return f"{self.op}({inner or ', '.join(str(a.index) for a in self.args)})"

    __hash__ = object.__hash__

    def __bool__(self) -> bool:
        raise ModelError(
            "an equation branches on a value that is not known yet",
            where=repr(self),
            remedy="Use np.where instead of if, and np.minimum or np.maximum instead of min or max",
        )

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **kwargs: Any) -> Any:
        if method != "__call__" or kwargs:
            return NotImplemented
        return self.graph.operate(ufunc.__name__, *inputs)

    def __array_function__(
        self, func: Any, types: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> Any:
        if func is np.where and len(args) == 3:
            return self.graph.where(*args)
        if func is np.clip and len(args) == 3 and not kwargs:
            return self.graph.operate(
                "minimum", self.graph.operate("maximum", args[0], args[1]), args[2]
            )
        return NotImplemented

    def __add__(self, other: Any) -> Node:
        return self.graph.operate("add", self, other)

    def __radd__(self, other: Any) -> Node:
        return self.graph.operate("add", other, self)

    def __sub__(self, other: Any) -> Node:
        return self.graph.operate("subtract", self, other)

    def __rsub__(self, other: Any) -> Node:
        return self.graph.operate("subtract", other, self)

    def __mul__(self, other: Any) -> Node:
        return self.graph.operate("multiply", self, other)

    def __rmul__(self, other: Any) -> Node:
        return self.graph.operate("multiply", other, self)

    def __truediv__(self, other: Any) -> Node:
        return self.graph.operate("divide", self, other)

    def __rtruediv__(self, other: Any) -> Node:
        return self.graph.operate("divide", other, self)

    def __pow__(self, other: Any) -> Node:
        return self.graph.operate("power", self, other)

    def __rpow__(self, other: Any) -> Node:
        return self.graph.operate("power", other, self)

    def __neg__(self) -> Node:
        return self.graph.operate("negative", self)

    def __abs__(self) -> Node:
        return self.graph.operate("absolute", self)

    def __gt__(self, other: Any) -> Node:
        return self.graph.operate("greater", self, other)

    def __ge__(self, other: Any) -> Node:
        return self.graph.operate("greater_equal", self, other)

    def __lt__(self, other: Any) -> Node:
        return self.graph.operate("less", self, other)

    def __le__(self, other: Any) -> Node:
        return self.graph.operate("less_equal", self, other)

    def __and__(self, other: Any) -> Node:
        return self.graph.operate("logical_and", self, other)

    def __or__(self, other: Any) -> Node:
        return self.graph.operate("logical_or", self, other)


class Graph:
    """All nodes of one build; makes equal expressions the same node."""

    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self._known: dict[tuple[Any, ...], Node] = {}
        self._derivatives: dict[tuple[int, int, int], Node] = {}
        self.implicit: dict[Node, Node] = {}
        """For every implicit input, the residual that it makes zero."""

    def _make(
        self, op: str, args: tuple[Node, ...] = (), value: float = 0.0, name: str = ""
    ) -> Node:
        key = (op, tuple(a.index for a in args), value, name)
        node = self._known.get(key)
        if node is None:
            node = Node(self, op, args, value, name, len(self.nodes))
            self.nodes.append(node)
            self._known[key] = node
        return node

    def constant(self, value: float) -> Node:
        number = float(value)
        if not math.isfinite(number):
            raise ModelError(
                f"the constant {number} is not finite", where="an equation",
                remedy="Check the literal numbers of the equation being traced",
            )  # fmt: skip
        return self._make("const", value=number + 0.0)

    def input(self, kind: str, name: str) -> Node:
        """An input of the kernel; kind is state, parameter, forcing, argument or implicit."""
        return self._make(kind, name=name)

    def lift(self, value: Any) -> Node:
        if isinstance(value, Node):
            return value
        return self.constant(value)

    def operate(self, op: str, *inputs: Any) -> Node:
        """The node of a NumPy function applied to nodes and numbers."""
        args = tuple(self.lift(x) for x in inputs)
        if op in ("divide", "true_divide"):
            return self.operate("multiply", args[0], self.operate("reciprocal", args[1]))
        if op == "power":
            return self._power(*args)
        if op == "square":
            return self.operate("multiply", args[0], args[0])
        if op == "cbrt":
            return self.operate("exp", self.operate("log", args[0]) * (1.0 / 3.0))
        if op == "tanh":
            return 1.0 - 2.0 / (self.operate("exp", args[0] * 2.0) + 1.0)
        if op in UNARY:
            return self._unary(op, args[0])
        if op in BINARY:
            return self._binary(op, args[0], args[1])
        if op in COMPARE or op in LOGICAL:
            return self._make(SAME.get(op, op), args)
        raise ModelError(
            f"np.{op} can't be turned into the kernel", where="an equation",
            remedy="Use one of: + - * / **, exp, log, sqrt, cbrt, tanh, maximum, minimum, where",
        )  # fmt: skip

    def _power(self, base: Node, exponent: Node) -> Node:
        if exponent.op == "const":
            number = exponent.value
            if number == int(number) and 0 <= number <= 8:
                result = self.constant(1.0)
                for _ in range(int(number)):
                    result = self.operate("multiply", result, base)
                return result
            if number == int(number) and -8 <= number < 0:
                return self.operate("reciprocal", self._power(base, self.constant(-number)))
            if number == 0.5:
                return self.operate("sqrt", base)
        return self.operate("exp", exponent * self.operate("log", base))

    def _unary(self, op: str, x: Node) -> Node:
        if x.op == "const":
            return self.constant(UNARY[op](x.value))
        if op == "negative" and x.op == "negative":
            return x.args[0]
        if op == "reciprocal" and x.op == "reciprocal":
            return x.args[0]
        return self._make(op, (x,))

    def _binary(self, op: str, a: Node, b: Node) -> Node:
        if a.op == "const" and b.op == "const":
            return self.constant(BINARY[op](a.value, b.value))
        if a is b and op in ("maximum", "minimum"):
            return a
        if op == "subtract":
            if b.op == "const" and b.value == 0.0:
                return a
            if a is b:
                return self.constant(0.0)
            if a.op == "const" and a.value == 0.0:
                return self._unary("negative", b)
            return self._make(op, (a, b))
        if a.index > b.index:  # the rest commute
            a, b = b, a
        for constant, other in ((a, b), (b, a)):
            if constant.op != "const":
                continue
            if op == "add" and constant.value == 0.0:
                return other
            if op == "multiply":
                if constant.value == 0.0:
                    return self.constant(0.0)
                if constant.value == 1.0:
                    return other
                if constant.value == -1.0:
                    return self._unary("negative", other)
        return self._make(op, (a, b))

    def where(self, condition: Any, yes: Any, no: Any) -> Node:
        chosen, a, b = self.lift(condition), self.lift(yes), self.lift(no)
        if a is b:
            return a
        return self._make("where", (chosen, a, b))

    # -- derivatives -----------------------------------------------------------

    def derivative(self, node: Node, by: Node, held: Node | None = None) -> Node:
        """Exact derivative of a node by an input, through implicit inputs but the held one."""
        key = (node.index, by.index, -1 if held is None else held.index)
        found = self._derivatives.get(key)
        if found is None:
            found = self._derive(node, by, held)
            self._derivatives[key] = found
        return found

    def _derive(self, node: Node, by: Node, held: Node | None) -> Node:
        zero = self.constant(0.0)
        if node is held:
            return zero
        if node is by:
            return self.constant(1.0)
        if node in self.implicit and by.op != "implicit":
            residual = self.implicit[node]
            slope = self.derivative(residual, by, node)
            if slope is zero:
                return zero
            return -slope / self.derivative(residual, node)
        if not node.args:
            return zero
        if node.op == "where":
            yes, no = (self.derivative(a, by, held) for a in node.args[1:])
            return zero if yes is zero and no is zero else self.where(node.args[0], yes, no)
        if node.op in COMPARE or node.op in ("logical_and", "logical_or"):
            return zero
        slopes = [self.derivative(a, by, held) for a in node.args]
        if all(s is zero for s in slopes):
            return zero
        return self._chain(node, slopes)

    def _chain(self, node: Node, slopes: list[Node]) -> Node:
        args = node.args
        if node.op == "add":
            return slopes[0] + slopes[1]
        if node.op == "subtract":
            return slopes[0] - slopes[1]
        if node.op == "multiply":
            return slopes[0] * args[1] + args[0] * slopes[1]
        if node.op == "maximum":
            return self.where(args[0] >= args[1], slopes[0], slopes[1])
        if node.op == "minimum":
            return self.where(args[0] <= args[1], slopes[0], slopes[1])
        if node.op == "exp":
            return node * slopes[0]
        if node.op == "log":
            return slopes[0] / args[0]
        if node.op == "sqrt":
            return slopes[0] * 0.5 / self.operate("maximum", node, 1e-150)
        if node.op == "reciprocal":
            return -(slopes[0] * node * node)
        if node.op == "negative":
            return -slopes[0]
        if node.op == "absolute":
            return self.where(args[0] >= 0.0, slopes[0], -slopes[0])
        raise ModelError(f"no derivative is known for {node.op}", where=repr(node), remedy="Add it")


def reach(outputs: list[Node]) -> list[Node]:
    """Every node that the outputs need, each after what it needs itself."""
    order: list[Node] = []
    seen: set[int] = set()
    for output in outputs:
        stack: list[tuple[Node, bool]] = [(output, False)]
        while stack:
            node, ready = stack.pop()
            if ready:
                order.append(node)
            elif node.index not in seen:
                seen.add(node.index)
                stack.append((node, True))
                stack.extend((a, False) for a in reversed(node.args) if a.index not in seen)
    return order
