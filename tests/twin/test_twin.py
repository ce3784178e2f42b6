"""The twin keeps its own books, tells its stories, and writes records that can be read."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.twin import START, STORIES, keeping_of, kept, rack

from pleuston.inference.causes import cause_data
from pleuston.store.exchange import read_rack, write_rack

WEEKS = 18
HEALTHY = [name for name, story in STORIES.items() if story.healthy]


def test_every_cause_has_a_story_and_odd_looking_tanks_are_well() -> None:
    told = {story.cause for story in STORIES.values()}
    assert told == set(cause_data()["causes"]) - {"unknown"}
    assert len(HEALTHY) >= 5
    for story in STORIES.values():
        assert story.onset + story.seen_after < 7 * WEEKS


def test_the_same_seed_tells_the_same_story() -> None:
    first, again, other = kept("open", 4, 8), kept("open", 4, 8), kept("open", 5, 8)
    assert first.record == again.record
    assert first.record != other.record


def test_nitrogen_is_neither_made_nor_lost() -> None:
    keeping, _ = keeping_of("lidded", 1)
    world = keeping.world

    def held() -> float:
        floating = 2.6 * sum(world.plants.values())
        rooted = 2.6 * world.rooted
        pools = world.ammonia + world.nitrite + world.nitrate + world.debris + world.gut
        return pools + floating + rooted + world.soil

    before, given, lost = held(), world.given["nitrogen"], world.lost_nitrogen
    for _ in range(10):
        keeping.week()
    entered = world.given["nitrogen"] - given
    gone = world.lost_nitrogen - lost
    assert entered > 20.0
    assert held() - before == pytest.approx(entered - gone, abs=0.12 * max(entered, gone))


@pytest.mark.parametrize("story", HEALTHY)
def test_a_healthy_tank_stays_within_limits(story: str) -> None:
    for seed in (1, 2):
        made = kept(story, seed, WEEKS)
        late = {n: v[28:] for n, v in made.truth.items()}
        assert np.quantile(late["ammonia_nh3"], 0.99) < 0.05
        assert late["nitrite"].max() < 0.5
        assert late["temperature"].max() < 28.5
        assert late["copper"].max() < 0.01


SHOWS = {
    "copper_source": ("copper", 10.0), "heat": ("temperature", 1.2),
    "overgrown_cover": ("cover", 1.4),
    "dead_animal": ("ammonium", 2.5), "soil_release": ("ammonium", 3.0),
    "plant_dieback": ("ammonium", 1.3), "overfeeding": ("phosphate_ion", 1.5),
    "osmotic_step": ("ec25", 1.4),
}  # fmt: skip


@pytest.mark.parametrize("story", SHOWS)
def test_a_story_shows_after_its_onset(story: str) -> None:
    what, factor = SHOWS[story]
    made = kept(story, 2, WEEKS)
    before = made.truth[what][made.onset - 14 : made.onset]
    after = made.truth[what][made.onset : made.visible + 14]
    assert after.max() > factor * np.median(before)


@pytest.mark.parametrize("story", ["surface_film", "overgrown_cover"])
def test_where_the_air_is_shut_out_the_mornings_lack_oxygen(story: str) -> None:
    made = kept(story, 2, WEEKS)
    dawn = made.truth["oxygen_dawn"]
    assert dawn[made.visible : made.visible + 28].min() < 0.85 * np.median(dawn[14 : made.onset])


def test_records_are_read_by_the_importer(tmp_path: Path) -> None:
    record = rack(["lidded", "osmotic_step", "too_much_flow"], 3, 12)
    write_rack(record, tmp_path / "rack")
    again = read_rack(tmp_path / "rack")
    assert len(again.entries) == len(record.entries)
    assert [t.name for t in again.tanks] == ["Tank 1", "Tank 2", "Tank 3"]
    assert again.tank_at("Tank 3", START + timedelta(days=80)).flow == "strong"
