"""Print a traced model as C99: straight lines over lanes of eight members."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from pleuston.model.jacobian import ALL, System
from pleuston.model.program import Program, depends, is_step
from pleuston.model.trace import COMPARE, Node, reach

TEST = {
    "greater": "gt", "greater_equal": "ge", "less": "lt", "less_equal": "le",
    "logical_and": "both", "logical_or": "either",
}  # fmt: skip
BOOLEAN = (*COMPARE, "logical_and", "logical_or")
PLAIN = {
    "add": "{0} + {1}", "subtract": "{0} - {1}", "multiply": "{0} * {1}", "negative": "-{0}",
    "reciprocal": "over({0})", "absolute": "size({0})", "sqrt": "root({0})",
    "exp": "power_of_e({0})", "log": "log_of({0})", "maximum": "most({0}, {1})",
    "minimum": "least({0}, {1})",
}  # fmt: skip
LOOP = "  LANES {\n"


def number(value: float) -> str:
    """A float as C prints it exactly."""
    return repr(float(value))


class Writer:
    """Writes the steps of one program, several lanes at a time.

    Steps that only one owner needs are left out while it is not there.
    """

    def __init__(self, system: System, slots: Mapping[int, int]) -> None:
        self.system = system
        self.prepared = slots
        self.scratch: dict[int, int] = {}
        self.lines: list[str] = []

    def leaf(self, node: Node) -> str | None:
        """How an input or a prepared value is read, None for a step of this program."""
        if node.op == "const":
            return f"all({number(node.value)})"
        if node.index in self.prepared:
            return f"ld(q+{self.prepared[node.index]}*L+l)"
        index = self.system.index
        if node.op == "state":
            return f"ld(y+{index['state'][node.name]}*L+l)"
        if node.op == "parameter":
            return f"ld(p+{index['parameter'][node.name]}*L+l)"
        if node.op == "forcing":
            return f"ld(x+{index['forcing'][node.name]}*L+l)"
        if node.op == "argument":
            return f"all(a[{index['argument'][node.name]}])"
        if node.op == "implicit":
            return f"ld(H+{index['implicit'][node.name]}*L+l)"
        return None

    def _read(self, node: Node) -> str:
        """How a value from outside the loop is read."""
        return self.leaf(node) or f"ld(w+{self.scratch[node.index]}*L+l)"

    def expression(self, node: Node, name: Callable[[Node], str]) -> str:
        """The right-hand side of one step."""
        args = node.args
        if node.op == "where":
            return f"pick({self.condition(args[0], name)}, {name(args[1])}, {name(args[2])})"
        return PLAIN[node.op].format(*(name(x) for x in args))

    def condition(self, node: Node, name: Callable[[Node], str]) -> str:
        a, b = node.args
        if node.op in ("logical_and", "logical_or"):
            return f"{TEST[node.op]}({self.condition(a, name)}, {self.condition(b, name)})"
        return f"{TEST[node.op]}({name(a)}, {name(b)})"

    def loop(
        self, steps: list[Node], outputs: Iterable[tuple[str, Node]], keep: set[int],
        owners: Mapping[int, int] | None = None,
    ) -> None:  # fmt: skip
        """Write steps as a loop; values in `keep` go to scratch, those of owners into ifs."""
        steps = [s for s in steps if s.op not in BOOLEAN and s.index not in self.prepared]
        owners = owners or {}
        targets: dict[int, list[str]] = {}
        own = {s.index for s in steps}
        direct = [(t, n) for t, n in outputs if n.index not in own]
        for target, node in outputs:
            targets.setdefault(node.index, []).append(target)
        local: dict[int, str] = {}
        common = [s for s in steps if owners.get(s.index, ALL) == ALL]
        body = self._block(common, targets, keep, local)
        body.extend(f"    st({target}, {self._read(node)});\n" for target, node in direct)
        for owner in sorted({*owners.values()} - {ALL}):
            mine = [s for s in steps if owners.get(s.index, ALL) == owner]
            inner = self._block(mine, targets, keep, dict(local))
            body.append(f"    if (there & {1 << owner}) {{\n{''.join(inner)}    }}\n")
        if body:
            self.lines.append(LOOP + "".join(body) + "  }\n")

    def _block(
        self, steps: list[Node], targets: Mapping[int, list[str]], keep: set[int],
        local: dict[int, str],
    ) -> list[str]:  # fmt: skip
        """Lines of some steps; `local` holds the names of values that are there already."""
        body: list[str] = []

        def name(node: Node) -> str:
            if node.op == "const":
                return self._read(node)
            if node.index not in local:
                local[node.index] = f"n{len(local)}"
                body.append(f"    const V {local[node.index]} = {self._read(node)};\n")
            return local[node.index]

        for step in steps:
            text = self.expression(step, name)
            local[step.index] = f"n{len(local)}"
            body.append(f"    const V {local[step.index]} = {text};\n")
            if step.index in keep:
                self.scratch[step.index] = len(self.scratch)
                body.append(f"    st(w+{self.scratch[step.index]}*L+l, {local[step.index]});\n")
            body.extend(
                f"    st({t}, {local[step.index]});\n" for t in targets.get(step.index, ())
            )
        return body

    def program(
        self, program: Program, outputs: list[tuple[str, Node]],
        owners: Mapping[int, int] | None = None,
    ) -> str:  # fmt: skip
        """The body of a function that evaluates a program."""
        inner = {n.index for w in program.newton for n in w.body}
        needed = {
            a.index for w in program.newton for n in w.body for a in _values(n)
        } | {n.index for w in program.newton for n in (w.residual, w.slope)}
        after = {a.index for n in program.after for a in _values(n)} | {
            n.index for _, n in outputs
        }
        self.loop(program.before, [], (needed | after) - inner)
        for newton in program.newton:
            self._newton(newton.root, newton.residual, newton.slope, newton.body)
        self.loop(program.after, outputs, set(), owners)
        return "".join(self.lines)

    def _newton(self, root: Node, residual: Node, slope: Node, body: list[Node]) -> None:
        local: dict[int, str] = {}
        text: list[str] = []
        at = self.leaf(root)
        place = f"H+{self.system.index['implicit'][root.name]}*L+l"

        def name(node: Node) -> str:
            if node.index in local:
                return local[node.index]
            return "h" if node is root else self._read(node)

        for step in body:
            if step.op in BOOLEAN or step.index in self.prepared:
                continue
            right = self.expression(step, name)
            local[step.index] = f"m{len(local)}"
            text.append(f"    const V {local[step.index]} = {right};\n")
        self.lines.append(
            "  LANES {\n" + f"    V h = {at};\n"
            + "    for (int pass = 0; pass < passes; ++pass) {\n" + "".join(text)
            + f"    const V d = most(least(-{name(residual)} * over(h * {name(slope)}), "
            "all(1.0)), all(-1.0));\n"
            "    h = h * (1.0 + 0.5 * d) * over(1.0 - 0.5 * d);\n    }\n"
            f"    st({place}, h);\n  }}\n"
        )  # fmt: skip


def _values(node: Node) -> list[Node]:
    """The numbers that a step reads: conditions are looked through."""
    found: list[Node] = []
    for arg in node.args:
        found.extend(_values(arg) if arg.op in BOOLEAN else [arg])
    return found


def owners_of(program: Program, owner: Callable[[str], int]) -> dict[int, int]:
    """Which owner alone needs a step, by the owners of the outputs; ALL where several do."""
    found: dict[int, int] = {}
    for key, node in program.outputs.items():
        for n in reach([node]):
            mine = owner(key)
            found[n.index] = mine if found.get(n.index, mine) == mine else ALL
    return found


SIGNATURE = (
    "(const double *restrict y, const double *restrict p, const double *restrict q, "
    "const double *restrict x, const double *restrict a, double *restrict H, int passes, "
    "double *restrict w"
)
UNUSED = "  (void)y; (void)p; (void)q; (void)x; (void)a; (void)H; (void)passes; (void)w;\n"


def function(
    name: str, more: str, system: System, slots: Mapping[int, int], program: Program,
    outputs: list[tuple[str, Node]], sizes: list[int], owners: Mapping[int, int] | None = None,
) -> str:  # fmt: skip
    """One C function that evaluates a program into its outputs."""
    writer = Writer(system, slots)
    body = writer.program(program, outputs, owners)
    sizes.append(len(writer.scratch))
    return f"static void {name}{SIGNATURE}{more}) {{\n{UNUSED}{body}}}\n\n"


def prepare_function(system: System, nodes: list[Node], slots: Mapping[int, int]) -> str:
    """The C function that evaluates what depends on parameters alone."""
    writer = Writer(system, {})
    targets = [(f"q+{slots[n.index]}*L+l", n) for n in nodes if n.index in slots]
    writer.loop([n for n in reach(nodes) if is_step(n)], targets, set())
    scratch = max(1, len(writer.scratch))
    return (
        "static void prepare(const double *restrict p, double *restrict q) {\n"
        f"  static _Thread_local double w[{scratch}*L]; (void)w; (void)p; (void)q;\n"
        + "".join(writer.lines) + "}\n\n"
    )  # fmt: skip


def used_slots(programs: list[Program], nodes: list[Node]) -> dict[int, int]:
    """Prepared nodes that something else reads, numbered."""
    alone = {n.index for n in nodes}
    wanted: set[int] = set()
    for program in programs:
        steps = [*program.before, *(n for w in program.newton for n in w.body), *program.after]
        kinds = depends(reach(steps)) if steps else {}
        for step in steps:
            if kinds[step.index] != {"parameter"}:
                wanted |= {a.index for a in _values(step) if a.index in alone}
        wanted |= {n.index for n in program.outputs.values() if n.index in alone}
        for w in program.newton:
            wanted |= {n.index for n in (w.residual, w.slope) if n.index in alone}
    return {n.index: i for i, n in enumerate(n for n in nodes if n.index in wanted)}
