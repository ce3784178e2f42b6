"""The round of a rack as one HTML file: acts, charts, a ledger; nothing fetched from outside."""

from __future__ import annotations

import html
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pleuston.inference.tank import tank_readings
from pleuston.planning.ledger import ledger
from pleuston.planning.tank_round import View
from pleuston.records.record import Record
from pleuston.reports.charts import Past, fan

CHARTS = {
    "oxygen_dawn": ("Oxygen at dawn", "oxygen_concentration"),
    "ec25": ("Conductivity", "conductivity"),
    "nitrate": ("Nitrate, as N", "nitrate_concentration"),
    "cover": ("Floating cover", "canopy_cover"),
}
SCALE = {"canopy_cover": 100.0}
WORDS = {"well": "well", "watch": "keep an eye on it", "act": "something to do", "danger": "danger"}
ICONS = {"well": "●", "watch": "◐", "act": "▲", "danger": "■"}
UNSAID = ("surface", "feed", "animals")
"""What an act's own name says already."""
BACK = 56.0
STYLE = """
:root{color-scheme:light dark;--ink:#24312d;--quiet:#5b6b65;--line:#d5ddd8;--paper:#fbfcfa;
--well:#2f7d5b;--watch:#4d6d8f;--act:#8f5a0e;--danger:#a3342c}
@media (prefers-color-scheme:dark){:root{--ink:#e6ece8;--quiet:#a3b1ab;--line:#3a4641;
--paper:#161c19;--well:#6fbf97;--watch:#8fb0d3;--act:#e0a850;--danger:#ec8a80}
figure svg{filter:invert(.88) hue-rotate(180deg)}}
*{box-sizing:border-box}body{margin:0 auto;max-width:64rem;padding:1.5rem 1rem 4rem;
font:1rem/1.5 system-ui,sans-serif;color:var(--ink);background:var(--paper)}
h1{font-size:1.6rem;margin:0}h2{font-size:1.2rem;margin:2.5rem 0 .3rem;padding-top:1rem;
border-top:1px solid var(--line)}p{margin:.4rem 0;max-width:70ch}.quiet{color:var(--quiet)}
nav ul{list-style:none;padding:0;margin:1rem 0;display:grid;gap:.2rem}
nav a{color:inherit}.state{font-weight:600;white-space:nowrap}
.well{color:var(--well)}.watch{color:var(--watch)}.act{color:var(--act)}.danger{color:var(--danger)}
ol.acts{padding-left:1.3rem}ol.acts li{margin:.7rem 0}ol.acts b{font-weight:600}
.charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(19rem,1fr));gap:1rem;
margin:1rem 0}
figure{margin:0}figure svg{width:100%;height:auto}figcaption{font-size:.85rem;color:var(--quiet)}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
td,th{padding:.15rem .9rem .15rem 0;text-align:left;border-bottom:1px solid var(--line)}
td.n{text-align:right}
details{margin:.6rem 0}summary{cursor:pointer}
@media print{body{max-width:none}h2{break-after:avoid}.tank{break-inside:avoid}
details{display:none}}
"""


def write_round_report(
    path: Path, record: Record, answer: Mapping[str, Any], views: Mapping[str, View]
) -> Path:
    """Write the report of a round; its folder is made where it is missing."""
    parts = [_head(record, answer), _list(answer)]
    parts += [_tank(tank, views.get(tank["tank"])) for tank in answer["tanks"]]
    parts.append(_foot(views))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(parts) + "\n", encoding="utf-8")
    return path


def _text(value: object) -> str:
    return html.escape(str(value))


def _head(record: Record, answer: Mapping[str, Any]) -> str:
    name = _text(record.rack.name or "Rack")
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>Round of {name}</title><style>{STYLE}</style></head><body><header>"
        f"<h1>Round of {name}</h1><p class=quiet>{_text(answer['at'])} · about "
        f"{answer['minutes']:.0f} minutes · worst tank first</p></header><main>"
    )


def _state(tank: Mapping[str, Any]) -> str:
    state = tank["state"]
    return f'<span class="state {state}">{ICONS[state]} {WORDS[state]}</span>'


def _list(answer: Mapping[str, Any]) -> str:
    rows = []
    for tank in answer["tanks"]:
        acts = ", ".join(_short(a) for a in tank["acts"][:3]) or "leave it alone"
        name = _text(tank["tank"])
        rows.append(f'<li>{_state(tank)} <a href="#{name}">{name}</a> '
                    f"<span class=quiet>{acts}</span></li>")  # fmt: skip
    return f"<nav aria-label='Tanks'><ul>{''.join(rows)}</ul></nav>"


def _short(act: Mapping[str, Any]) -> str:
    amount = "" if act["amount"] is None else f" {act['amount']:.3g} {act['unit']}"
    name = act["act"].replace("_", " ")
    what = "" if act["what"] in UNSAID else f" {act['what']}"
    return _text(f"{name}{what}{amount}")


def _crossed(behind: Mapping[str, Any]) -> str:
    own = f"; {behind['own']}" if behind.get("own") else ""
    return f"{behind['word']} ({behind['chance']:.0%} this week{own})"


def _tank(tank: Mapping[str, Any], view: View | None) -> str:
    name = _text(tank["tank"])
    because = "; ".join(_crossed(b) for b in tank["because"])
    acts = "".join(_act(a) for a in tank["acts"])
    body = f"<ol class=acts>{acts}</ol>" if acts else "<p>Nothing to do: leave it alone.</p>"
    charts = _charts(view) + _ledger(view) if view is not None else ""
    return (
        f'<section class=tank id="{name}"><h2>{name} {_state(tank)}</h2>'
        f"<p class=quiet>{_text(because)}</p>{body}{charts}</section>"
    )


def _act(act: Mapping[str, Any]) -> str:
    caution = (
        f"<br><span class=quiet>Caution: {_text(act['caution'])}</span>" if act["caution"] else ""
    )
    return (
        f"<li><b>{_short(act)}</b> <span class=quiet>(confidence {_text(act['confidence'])})</span>"
        f"<br>{_text(act['reason'])}<br><span class=quiet>If skipped: {_text(act['if_skipped'])}"
        f"</span>{caution}</li>"
    )


def _charts(view: View) -> str:
    figures = []
    for quantity, (title, output) in CHARTS.items():
        limits = [lim for lim in view.limits if lim.quantity == quantity]
        chart = fan(view.ahead, quantity, title, limits, _past(view, output))
        figures.append(
            f"<figure>{chart.svg}<figcaption>{_text(chart.sentence)}</figcaption></figure>"
        )
    return f"<div class=charts>{''.join(figures)}</div>"


def _past(view: View, output: str) -> Past:
    belief = view.belief
    scale = SCALE.get(output, 1.0)
    days, low, high = [], [], []
    for reading, name in tank_readings(belief.case, belief.at)[0]:
        if name != output or reading.time < belief.at - BACK:
            continue
        bottom = 0.0 if reading.low is None else reading.low * scale
        top = bottom * 1.3 if reading.high is None else reading.high * scale
        pad = 0.005 * abs(top) if top == bottom else 0.0
        days.append(reading.time - belief.at)
        low.append(bottom - pad)
        high.append(top + pad)
    return Past(days, low, high)


def _ledger(view: View) -> str:
    belief = view.belief
    made = ledger(belief, "N", max(0.0, belief.at - 28.0), belief.at)
    rows = "".join(
        f"<tr><td>{side}</td><td>{_text(n)}</td><td class=n>{v:.1f}</td></tr>"
        for side in ("in", "out", "stored") for n, v in made[side].items()
    )  # fmt: skip
    low, high = made["unexplained"]
    return (
        "<details><summary>Nitrogen of the last four weeks [mg]</summary><table><thead><tr>"
        "<th scope=col>side</th><th scope=col>where</th><th scope=col>mg</th></tr></thead>"
        f"<tbody>{rows}<tr><td>unexplained</td><td></td>"
        f"<td class=n>{low:.1f} to {high:.1f}</td></tr>"
        "</tbody></table></details>"
    )


def _foot(views: Mapping[str, View]) -> str:
    model = next((v.belief.model for v in views.values()), "")
    return (
        "</main><footer class=quiet><p>Bands hold 50, 80 and 95 % of the members; bars are "
        "readings as the intervals they stand for; lines are limits (dotted watch, dashed act, "
        "full danger). "
        "A forecast is no substitute for looking: if animals suffer, change water. Ask a vet about "
        f"disease.</p><p>Model {_text(model)}.</p></footer></body></html>"
    )
