"""Write the whole C kernel of a model: sizes, tables, rates, Jacobian, LU, jumps."""

from __future__ import annotations

from pleuston.model.emit_c import (
    LOOP,
    function,
    number,
    owners_of,
    prepare_function,
    used_slots,
)
from pleuston.model.jacobian import ALL, System, lu_plan, matrix_terms, sparse
from pleuston.model.program import Program, prepared
from pleuston.model.trace import Node

Terms = dict[tuple[int, int], list[tuple[float, int]]]


def _array(kind: str, name: str, values: list[str]) -> str:
    return f"static const {kind} {name}[] = {{{', '.join(values) or '0'}}};\n"


def _outputs(program: Program, letters: dict[str, str]) -> list[tuple[str, Node]]:
    return [(f"{letters[k[0]]}+{k[1:]}*L+l", n) for k, n in program.outputs.items()]


def _sum(terms: list[tuple[float, str]]) -> str:
    """A sum of products, added where a coefficient is one."""
    text = ""
    for c, value in terms:
        one = value if abs(c) == 1.0 else f"{number(abs(c))} * {value}"
        sign = ("-" if c < 0 else "") if not text else (" - " if c < 0 else " + ")
        text += sign + one
    return text or "all(0.0)"


def _changes(system: System) -> str:
    """d = S^T r for the rows, as straight lines per state."""
    rows = sparse(system.model.rows, system.index["state"])
    per_state: dict[int, list[tuple[float, str]]] = {}
    for r, entries in enumerate(rows):
        for s, c in entries:
            per_state.setdefault(s, []).append((float(c), f"ld(r+{r}*L+l)"))
    text = "static void change_of(const double *restrict r, double *restrict d) {\n" + LOOP
    for s in range(len(system.model.states)):
        text += f"    st(d+{s}*L+l, {_sum(per_state.get(s, []))});\n"
    return text + "  }\n}\n\n"


def _stage(system: System, terms: Terms, place: dict[tuple[int, int], int], first: bool) -> str:
    """r = Q + J u with (I - g h A) x = S_F^T Q + A v, u = v + g h x and A = S_F^T J.

    The first stage has no v; later ones find Q in r.
    """
    index, fast = system.index["state"], system.model.fast
    rows = sparse(system.model.rows, index)
    places = {index[n]: i for i, n in enumerate(fast)}
    per_fast: dict[int, list[tuple[float, str]]] = {}
    source = "q" if first else "r"
    for r, entries in enumerate(rows):
        for s, c in entries:
            if s in places:
                per_fast.setdefault(places[s], []).append((float(c), f"ld({source}+{r}*L+l)"))
    more = "const double *restrict q, " if first else "const double *restrict a, "
    more = "int there, " + more + ("" if first else "const double *restrict v, ")
    text = (
        f"static void {'first' if first else 'later'}_stage(double gh, const double *restrict j, "
        f"const double *restrict m, {more}double *restrict r) {{\n"
        "  (void)gh; (void)j; (void)m; (void)there;"
        f"{'' if first else ' (void)a; (void)v;'}\n" + LOOP
    )
    for i in range(len(fast)):
        text += f"    V b{i} = {_sum(per_fast.get(i, []))};\n"
        if not first:
            text += f"    const V v{i} = ld(v+{i}*L+l);\n"
    if not first:
        for n, (i, k) in enumerate(terms):
            text += f"    b{i} += ld(a+{n}*L+l) * v{k};\n"
    text += _solution(len(fast), place)
    for i in range(len(fast)):
        text += f"    b{i} = gh * b{i}{'' if first else f' + v{i}'};\n"
    per_row: dict[int, str] = {}
    for k, (row, col) in enumerate(system.jacobian):
        per_row[row] = per_row.get(row, "") + f" + ld(j+{k}*L+l) * b{col}"
    lines: dict[int, str] = {}
    for row in range(len(rows)) if first else sorted(per_row):
        owner = system.owner(row)
        lines[owner] = lines.get(owner, "") + (
            f"    st(r+{row}*L+l, ld({source}+{row}*L+l){per_row.get(row, '')});\n"
        )
    text += "    READ_AGAIN;\n" + lines.pop(ALL, "")
    text += "".join(f"    if (there & {1 << o}) {{\n{t}    }}\n" for o, t in lines.items())
    return text + "  }\n}\n\n"


def _solution(size: int, place: dict[tuple[int, int], int]) -> str:
    """Forward and back substitution on b0, b1, ..."""
    text = ""
    for i in range(size):
        for k in range(i):
            if (i, k) in place:
                text += f"    b{i} -= ld(m+{place[i, k]}*L+l) * b{k};\n"
    for i in reversed(range(size)):
        for k in range(i + 1, size):
            if (i, k) in place:
                text += f"    b{i} -= ld(m+{place[i, k]}*L+l) * b{k};\n"
        text += f"    b{i} *= ld(m+{place[i, i]}*L+l);\n"
    return text


def _matrix(system: System, terms: Terms) -> tuple[str, dict[tuple[int, int], int]]:
    """A = S_F^T J, and the factors of I - g h A."""
    lines, place = lu_plan(len(system.model.fast), set(terms))
    text = "static void fast_matrix(const double *restrict j, double *restrict a) {\n" + LOOP
    for n, products in enumerate(terms.values()):
        total = _sum([(c, f"ld(j+{e}*L+l)") for c, e in products])
        text += f"    st(a+{n}*L+l, {total});\n"
    text += "  }\n}\n\n"
    text += "static void factor(double gh, const double *restrict a, double *restrict m) {\n" + LOOP
    order = {entry: n for n, entry in enumerate(terms)}
    for (i, k), at in place.items():
        one = "1.0" if i == k else "0.0"
        there = f"{one} - gh * ld(a+{order[i, k]}*L+l)" if (i, k) in order else f"all({one})"
        text += f"    V e{at} = {there};\n"
    text += "".join(f"    {line}\n" for line in lines)
    text += "".join(f"    st(m+{at}*L+l, e{at});\n" for at in place.values())
    return text + "  }\n}\n\n", place


def _jumps(system: System, slots: dict[int, int], sizes: list[int]) -> str:
    """One function per jump, and the switch that applies it."""
    text, cases = "", ""
    moves = sparse(system.model.moves, system.index["state"])
    for j, (jump, program) in enumerate(system.jumps.items()):
        numbers = [i for i, m in enumerate(system.model.moves) if m.jump == jump]
        outputs = [(f"m+{n}*L+l", node) for n, node in enumerate(program.outputs.values())]
        text += function(
            f"amounts_{jump}", ", double *restrict m", system, slots, program, outputs, sizes
        )
        cases += f"  case {j}:\n    amounts_{jump}(y, p, q, x, a, H, passes, w, m);\n"
        cases += "    for (int l = 0; l < L; ++l) {\n"
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
        ("rates", ", double *restrict r, double *restrict t, int there", system.rates),
        (
            "rates_jacobian",
            ", double *restrict r, double *restrict t, double *restrict j, int there",
            system.rates_jacobian,
        ),
        ("observe", ", double *restrict o", system.observe),
    ):
        owners = owners_of(program, system.owner_of_output)
        outputs = _outputs(program, letters)
        body += function(name, more, system, slots, program, outputs, sizes, owners)
    terms = matrix_terms(system)
    matrix, place = _matrix(system, terms)
    body += _changes(system) + matrix
    body += _stage(system, terms, place, True) + _stage(system, terms, place, False)
    body += _jumps(system, slots, sizes)
    sizes_of = {
        "NLU": len(place), "NAF": len(terms), "NQ": max(1, len(slots)), "NW": max(sizes) + 1,
    }  # fmt: skip
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
    for macro, count in (
        ("NS", len(model.states)), ("NR", len(model.rows)), ("NM", len(model.moves)),
        ("NP", len(model.parameters)), ("NX", len(model.forcings)), ("NA", len(model.arguments)),
        ("NI", len(model.implicits)), ("NF", len(model.fast)), ("NO", len(model.observed)),
        ("NT", len(model.tracked)), ("NJ", len(system.jacobian)), *sizes.items(), ("NMJ", most),
        ("NG", len(model.owners)),
    ):  # fmt: skip
        head += f"#define {macro} {count}\n"
    head += f'static const char KERNEL_HASH[] = "{digest}";\n'
    states = list(model.states.values())
    head += _array("double", "TYPICAL", [number(s.typical) for s in states])
    head += _array("int", "FLOORED", ["1" if s.floor is not None else "0" for s in states])
    lowest = ["-INFINITY" if s.floor is None else "0.0" for s in states]
    head += _array("double", "LOWEST", lowest)
    head += _array("double", "H_START", [number(v) for v in model.starts.values()])
    head += _array("int", "FAST", [str(system.index["state"][n]) for n in model.fast])
    starts_of_owners, theirs = [0], list[str]()
    for owner in model.owners:
        theirs.extend(str(system.index["state"][n]) for n in model.states_of(owner))
        starts_of_owners.append(len(theirs))
    head += _array("int", "G_START", [str(n) for n in starts_of_owners])
    head += _array("int", "G_STATE", theirs)
    head += _array("int", "S_START", [str(n) for n in starts])
    head += _array("int", "S_STATE", [str(s) for s, _ in flat])
    head += _array("double", "S_COEF", [number(float(c)) for _, c in flat])
    return head
