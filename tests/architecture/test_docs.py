"""Documentation is complete, its links lead somewhere, and its commands exist."""

from __future__ import annotations

import re
from typing import Any

import pytest
from typer.main import get_command

from .source import ROOT, text_of, tracked

DOCS = ROOT / "docs"
LINK = re.compile(r"\]\(([^)\s]+)\)")
PAGES = [p for p in tracked() if p.suffix == ".md"]
EXPLAINED = ("balance", "engine", "learning", "unknowns", "manners")
HOW_TO = ("import-a-record", "judge-a-water", "add-a-species", "add-a-row")


def commands() -> dict[str, Any]:
    from pleuston.cli.main import app

    group: Any = get_command(app)
    return dict(group.commands)


def test_every_command_is_documented() -> None:
    page = text_of(DOCS / "reference" / "commands.md")
    names = commands()
    assert {"demo", "import", "export", "tanks", "outlook", "ledger", "round"} <= set(names)
    assert {"run", "water", "where", "table", "parameters", "check"} <= set(names)
    missing = [name for name in names if f"\n## pleuston {name}\n" not in page]
    assert not missing


def test_every_command_and_option_explains_itself() -> None:
    silent = []
    for name, command in commands().items():
        if not (command.help or "").strip():
            silent.append(name)
        silent += [f"{name} {p.opts[0]}" for p in command.params if not p.help and p.name != "help"]
    assert not silent


def test_every_answer_has_json() -> None:
    answers = {"tanks", "outlook", "ledger", "round", "water", "where", "parameters", "check"}
    options = {n: {o for p in c.params for o in p.opts} for n, c in commands().items()}
    assert [name for name in sorted(answers) if "--json" not in options[name]] == []


def test_commands_that_pages_show_exist() -> None:
    known = set(commands())
    used = {
        (path.name, name)
        for path in PAGES
        for block in re.findall(r"```sh\n(.*?)```", text_of(path), re.DOTALL)
        for name in re.findall(r"(?:^|/)pleuston ([a-z-]+)", block, re.MULTILINE)
    }
    assert len(used) >= 5
    assert [(page, name) for page, name in sorted(used) if name not in known] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page) -> None:  # type: ignore[no-untyped-def]
    targets = {t.partition("#")[0] for t in LINK.findall(text_of(page)) if "://" not in t}
    assert [t for t in sorted(targets - {""}) if not (page.parent / t).exists()] == []


def test_the_shelves_are_full() -> None:
    for name in EXPLAINED:
        assert text_of(DOCS / "explanation" / f"{name}.md").startswith("# ")
    for name in HOW_TO:
        assert text_of(DOCS / "how-to" / f"{name}.md").startswith("# ")
    assert text_of(DOCS / "tutorial" / "first-rack.md").startswith("# ")


def test_decisions_are_numbered_listed_and_whole() -> None:
    folder = DOCS / "decisions"
    notes = sorted(p for p in folder.glob("*.md") if p.name != "README.md")
    assert [p.name[:3] for p in notes] == [f"{n:03d}" for n in range(1, len(notes) + 1)]
    listing = text_of(folder / "README.md")
    for note in notes:
        text = text_of(note)
        assert f"({note.name})" in listing
        assert text.startswith(f"# {note.name[:3]} ")
        assert all(f"**{part}.**" in text for part in ("Context", "Choice", "Consequences"))
        assert len(text.splitlines()) <= 60
