"""Order the nodes of a graph into a straight-line program that printers write out.

A program has three parts: what the implicit quantities need (`before`), one Newton
pass for each of them (`newton`), and the rest (`after`). Nodes that depend on
parameters alone are `prepared` once for a run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pleuston.model.trace import Graph, Node, reach

INPUTS = ("state", "parameter", "forcing", "argument", "implicit")


@dataclass(frozen=True)
class Newton:
    """One implicit quantity: its input node, residual, slope, and the pass's own nodes."""

    root: Node
    residual: Node
    slope: Node
    body: list[Node]


@dataclass(frozen=True)
class Program:
    """Nodes in order of evaluation, for some outputs."""

    outputs: Mapping[str, Node]
    before: list[Node]
    newton: list[Newton]
    after: list[Node]


def is_step(node: Node) -> bool:
    """Whether a node is computed (not an input or a constant)."""
    return node.op != "const" and node.op not in INPUTS


def depends(nodes: list[Node]) -> dict[int, frozenset[str]]:
    """The kinds of input that each node depends on."""
    kinds: dict[int, frozenset[str]] = {}
    for node in nodes:
        if node.op in INPUTS:
            kinds[node.index] = frozenset((node.op,))
        else:
            kinds[node.index] = frozenset().union(*(kinds[a.index] for a in node.args))
    return kinds


def plan(graph: Graph, outputs: Mapping[str, Node]) -> Program:
    """The program of some outputs."""
    roots: list[Node] = []
    wanted = list(outputs.values())
    order = reach(wanted)
    # an implicit quantity is solved when anything that is wanted needs it
    for root, residual in graph.implicit.items():
        if any(n is root for n in order):
            roots.append(root)
            slope = graph.derivative(residual, root)
            order = reach([residual, slope, *wanted])
    targets = [(r, graph.implicit[r], graph.derivative(graph.implicit[r], r)) for r in roots]
    newton, done = [], set()
    before: list[Node] = []
    kinds = depends(order)
    for root, residual, slope in targets:
        body = []
        for node in reach([residual, slope]):
            if not is_step(node) or node.index in done:
                continue
            if "implicit" in kinds[node.index]:
                body.append(node)
            else:
                before.append(node)
                done.add(node.index)
        newton.append(Newton(root, residual, slope, body))
    after = [n for n in order if is_step(n) and n.index not in done]
    used = {n.index for n in reach(wanted)}
    after = [n for n in after if n.index in used]
    return Program(outputs, before, newton, after)


def prepared(programs: list[Program]) -> list[Node]:
    """Nodes that depend on parameters alone, in order, over several programs."""
    found: dict[int, Node] = {}
    for program in programs:
        steps = [*program.before, *(n for w in program.newton for n in w.body), *program.after]
        order = reach([*steps])
        kinds = depends(order)
        for node in order:
            if is_step(node) and kinds[node.index] == {"parameter"}:
                found[node.index] = node
    return [found[i] for i in sorted(found)]
