"""Write the whole C kernel of a model: sizes, tables, rates, Jacobian, LU, jumps."""

from __future__ import annotations

from pleuston.model.emit_c import LOOP, function, number, prepare_function, used_slots
from pleuston.model.jacobian import System, lu_plan, matrix_terms, sparse
from pleuston.model.program import Program, prepared


def _array(kind: str, name: str, values: list[str]) -> str:
    return f"static const {kind} {name}[] = {{{', '.join(values) or '0'}}};\n"


def _outputs(program: Program, letters: dict[str, str]) -> list[tuple[str, object]]:
    return [(f"{letters[k[0]]}[{k[1:]}*L+l]", n) for k, n in program.outputs.items()]


def _changes(system: System) -> str:
    """dy = S^T rho for the rows, as straight lines per state."""
    rows = sparse(system.model.rows, system.index["state"])
    per_state: dict[int, list[str]] = {}
    for r, entries in enumerate(rows):
        for s, c in entries:
            per_state.setdefault(s, []).append(f"{number(float(c))} * r[{r}*L+l]")
    text = "static void change_of(const double *restrict r, double *restrict d) {\n" + LOOP
    for s in range(len(system.model.states)):
        text += f"    d[{s}*L+l] = {' + '.join(per_state.get(s, ['0.0']))};\n"
    return text + "  }\n}\n\n"


def _fast_changes(system: System) -> str:
    """The same for the fast states only, in the order of the fast list."""
    index = system.index["state"]
    rows = sparse(system.model.rows, index)
    text = "static void fast_change_of(const double *restrict r, double *restrict d) {\n" + LOOP
    for i, name in enumerate(system.model.fast):
        terms = [
            f"{number(float(c))} * r[{r}*L+l]"
            for r, entries in enumerate(rows) for s, c in entries if s == index[name]
        ]  # fmt: skip
        text += f"    d[{i}*L+l] = {' + '.join(terms) or '0.0'};\n"
    return text + "  }\n}\n\n"


def _jacobian_times(system: System) -> str:
    """q += J v for a vector over the fast states."""
    text = (
        "static void add_jacobian_times(const double *restrict j, const double *restrict v, "
        "double *restrict r) {\n" + LOOP
    )
    per_row: dict[int, list[str]] = {}
    for k, (row, col) in enumerate(system.jacobian):
        per_row.setdefault(row, []).append(f"j[{k}*L+l] * v[{col}*L+l]")
    for row, terms in per_row.items():
        text += f"    r[{row}*L+l] += {' + '.join(terms)};\n"
    return text + "  }\n}\n\n"


def _matrix(system: System) -> tuple[str, int]:
    terms = matrix_terms(system)
    size = len(system.model.fast)
    lines, place = lu_plan(size, set(terms))
    text = "static void factor(double gh, const double *restrict j, double *restrict m) {\n" + LOOP
    for (i, k), at in place.items():
        one = "1.0" if i == k else "0.0"
        sums = " + ".join(f"{number(c)} * j[{e}*L+l]" for c, e in terms.get((i, k), []))
        text += f"    double e{at} = {one}{f' - gh * ({sums})' if sums else ''};\n"
    text += "".join(f"    {line}\n" for line in lines)
    text += "".join(f"    m[{at}*L+l] = e{at};\n" for at in place.values()) + "  }\n}\n\n"
    text += "static void solve(const double *restrict m, double *restrict b) {\n" + LOOP
    for i in range(size):
        for k in range(i):
            if (i, k) in place:
                text += f"    b[{i}*L+l] -= m[{place[i, k]}*L+l] * b[{k}*L+l];\n"
    for i in reversed(range(size)):
        for k in range(i + 1, size):
            if (i, k) in place:
                text += f"    b[{i}*L+l] -= m[{place[i, k]}*L+l] * b[{k}*L+l];\n"
        text += f"    b[{i}*L+l] *= m[{place[i, i]}*L+l];\n"
    return text + "  }\n}\n\n", len(place)


def _jumps(system: System, slots: dict[int, int], sizes: list[int]) -> str:
    """One function per jump, and the switch that applies it."""
    text, cases = "", ""
    moves = sparse(system.model.moves, system.index["state"])
    for j, (jump, program) in enumerate(system.jumps.items()):
        numbers = [i for i, m in enumerate(system.model.moves) if m.jump == jump]
        outputs = [(f"m[{n}*L+l]", node) for n, node in enumerate(program.outputs.values())]
        text += function(
            f"amounts_{jump}", ", double *restrict m", system, slots, program, outputs, sizes
        )
        cases += f"  case {j}:\n    amounts_{jump}(y, p, q, x, a, H, passes, w, m);\n"
        cases += "    _Pragma(\"omp simd\")\n    for (int l = 0; l < L; ++l) {\n"
        for n, i in enumerate(numbers):
            cases += f"      extent[({i}+NR)*L+l] += m[{n}*L+l];\n"
            for s, c in moves[i]:
                cases += f"      y[{s}*L+l] += {number(float(c))} * m[{n}*L+l];\n"
        cases += "    }\n    break;\n"
    return text + (
        "static void apply_jump(int kind, double *restrict y, const double *restrict p, "
        "const double *restrict q, const double *restrict x, const double *restrict a, "
        "double *restrict H, int passes, double *restrict w, double *restrict m, "
        "double *restrict extent) {\n"
        "  (void)y; (void)p; (void)q; (void)x; (void)a; (void)H; (void)passes; (void)w; (void)m;"
        f" (void)extent;\n  switch (kind) {{\n{cases}  default: break;\n  }}\n}}\n"
    )  # fmt: skip


def kernel_c(system: System, digest: str) -> str:
    """The text of kernel.c."""
    programs = [system.rates, system.rates_jacobian, system.observe, *system.jumps.values()]
    nodes = prepared(programs)
    slots = used_slots(programs, nodes)
    sizes: list[int] = []
    letters = {"r": "r", "t": "t", "j": "j", "o": "o"}
    body = prepare_function(system, nodes, slots)
    for name, more, program in (
        ("rates", ", double *restrict r, double *restrict t", system.rates),
        (
            "rates_jacobian",
            ", double *restrict r, double *restrict t, double *restrict j",
            system.rates_jacobian,
        ),
        ("observe", ", double *restrict o", system.observe),
    ):
        body += function(name, more, system, slots, program, _outputs(program, letters), sizes)  # type: ignore[arg-type]
    matrix, entries = _matrix(system)
    body += _changes(system) + _fast_changes(system) + _jacobian_times(system) + matrix
    body += _jumps(system, slots, sizes)
    sizes_of = {"NLU": entries, "NQ": max(1, len(slots)), "NW": max(sizes) + 1}
    return _head(system, digest, sizes_of) + "\n" + body


def _head(system: System, digest: str, sizes: dict[str, int]) -> str:
    """Sizes and tables of the kernel."""
    model = system.model
    rows = sparse(model.rows, system.index["state"])
    starts, flat = [0], []
    for entries_of_row in rows:
        flat.extend(entries_of_row)
        starts.append(len(flat))
    most = max([len(p.outputs) for p in system.jumps.values()], default=1)
    head = "/* GENERATED by pleuston.model.build from the table of processes: do not edit. */\n"
    head += "#define L 8\n"
    for macro, count in (
        ("NS", len(model.states)), ("NR", len(model.rows)), ("NM", len(model.moves)),
        ("NP", len(model.parameters)), ("NX", len(model.forcings)), ("NA", len(model.arguments)),
        ("NI", len(model.implicits)), ("NF", len(model.fast)), ("NO", len(model.observed)),
        ("NT", len(model.tracked)), ("NJ", len(system.jacobian)), *sizes.items(), ("NMJ", most),
    ):  # fmt: skip
        head += f"#define {macro} {count}\n"
    head += f'static const char KERNEL_HASH[] = "{digest}";\n'
    states = list(model.states.values())
    head += _array("double", "TYPICAL", [number(s.typical) for s in states])
    head += _array("int", "FLOORED", ["1" if s.floor is not None else "0" for s in states])
    head += _array("double", "H_START", [number(v) for v in model.starts.values()])
    head += _array("int", "FAST", [str(system.index["state"][n]) for n in model.fast])
    head += _array("int", "S_START", [str(n) for n in starts])
    head += _array("int", "S_STATE", [str(s) for s, _ in flat])
    head += _array("double", "S_COEF", [number(float(c)) for _, c in flat])
    return head
