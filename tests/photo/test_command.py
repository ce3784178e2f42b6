"""`pleuston cover` as a keeper meets it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tests.photo.scenes import Scene, picture

from pleuston.cli.main import run_command

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photos") / "tank.jpg"
    path.write_bytes(picture(Scene(cover=0.5, bottom="sand", frond=14, seed=5))[0])
    return path


def test_the_answer_as_json_and_the_mask_as_a_file(
    capsys: Capture, photo: Path, tmp_path: Path
) -> None:
    out = tmp_path / "mask.png"
    given = ["--corners", "0,0;720,0;720,540;0,540", "--json", "--mask", str(out)]
    assert run_command(["cover", str(photo), *given]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["low_pct"] <= found["cover_pct"] <= found["high_pct"]
    assert found["reasons"] == []
    assert found["sure"] is True
    with Image.open(out) as mask:
        assert mask.size == (found["width"], found["height"])
        share = np.asarray(mask, dtype=bool).mean()
    assert 100 * share == pytest.approx(found["cover_pct"], abs=0.06)


def test_the_answer_as_text(capsys: Capture, photo: Path) -> None:
    assert run_command(["cover", str(photo)]) == 0
    assert capsys.readouterr().out.startswith("Cover ")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--corners", "1,2;3"], "not four corners"),
        (["--corners", "0,0;721,0;720,540;0,540"], "outside the picture of 720 x 540"),
        (["--shift", "9"], "says nothing"),
        (["--mask", "/nowhere/at/all.png"], "No such file"),
    ],
)
def test_what_cannot_be_taken_is_one_line(
    capsys: Capture, photo: Path, given: list[str], said: str
) -> None:
    assert run_command(["cover", str(photo), *given]) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.count("\n") == 1


def test_a_file_that_is_no_photo_is_refused(capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "tank.jpg"
    path.write_text("not a photo")
    assert run_command(["cover", str(path)]) == 2
    assert "no JPEG, PNG or WebP" in capsys.readouterr().err
