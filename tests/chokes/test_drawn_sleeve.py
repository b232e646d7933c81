"""A sleeve of a study: which way it opens, where it is drawn, what is told, what is refused."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from models.site.sleeve import SLEEVE
from models.wires.structure import GeometryError, Structure
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.cases import geometry_plans
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series, told_impedance
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from tests.harness.small_study import small_study_file, study
from tests.validation.sleeves import Lengths, average_gain, solve
from tests.validation.sleeves import Sleeve as Walls

OWN = {"id": "own", "kind": "sleeve", "pipe": "28x1 mm", "position": "0.40 m"}


def read(folder: Path, **changes: object) -> tuple[Study, SleeveChoke, Structure]:
    """The small study with one sleeve, and that as it is drawn."""
    found = load_study(small_study_file(folder, chokes=[OWN | changes]))
    (sleeve,) = found.chokes
    assert isinstance(sleeve, SleeveChoke)
    (plan,) = (p for p in geometry_plans(found) if p.choke == sleeve)
    return found, sleeve, structure(found, plan)


# Laws


@pytest.mark.parametrize("mouth", ["antenna", "radio"])
def test_its_place_is_the_end_nearer_to_the_antenna_whichever_way_it_opens(
    mouth: str, tmp_path: Path
) -> None:
    found, sleeve, built = read(tmp_path, mouth=mouth)
    over = [w for w in built.wires if w.part == SLEEVE and w.start[:2] == w.end[:2]]
    heights = [p[2] for w in over for p in (w.start, w.end)]
    top = max(p[2] for w in built.wires if w.part == "shield" for p in (w.start, w.end))
    # 0.17 m out, then down: the sleeve begins 0.23 m below the bend; its plate is 1 mm thick.
    assert top - max(heights) == pytest.approx(0.23, abs=0.003)
    assert max(heights) - min(heights) == pytest.approx(sleeve.inside(found.host), abs=0.004)
    port = built.ports[built.port_index(SLEEVE)]
    assert port.position is not None
    beside = port.position < 0.4 if mouth == "antenna" else port.position > sleeve.position + 0.4
    assert beside


def test_its_inside_is_in_series_with_the_port_at_its_mouth_and_nowhere_else(
    tmp_path: Path,
) -> None:
    found, sleeve, built = read(tmp_path)
    z = choke_series(built, found, sleeve, np.array([found.frequency]))[0]
    assert np.flatnonzero(z).tolist() == [built.port_index(SLEEVE)]
    with pytest.raises(ValueError, match="not the geometry"):
        choke_series(structure(found, geometry_plans(found)[1]), found, sleeve, np.ones(1))


def test_no_more_is_told_of_its_impedance_than_a_saw_allows() -> None:
    # Z0 / tan of one per cent of a quarter wave (Pozar, eq. 2.45, from memory): 64 times Z0.
    sleeve = next(c for c in study().chokes if c.id == "sleeve")
    told = abs(told_impedance(sleeve, study(), np.array([study().frequency]))[0])
    f, sawn_right = np.array([study().frequency]), np.ones(1)
    assert 60 * 50 < told < 66 * 70
    assert abs(sleeve.told_impedance(f, study().host, sawn_right)[0]) > 15 * told


def test_it_says_how_long_it_is_and_which_way_it_opens(tmp_path: Path) -> None:
    found, sleeve, _ = read(tmp_path, mouth="radio")
    said = sleeve.settled(found.host).begins
    assert said.startswith(f"{1e3 * sleeve.inside(found.host):.0f} mm long")
    assert "mouth to radio" in sleeve.label
    assert said.endswith("long, starting 0.40 m from the antenna")
    own = read(tmp_path, mouth="radio", label="mine")[1]
    assert own.begins == "mouth towards the radio, starting 0.40 m from the antenna"


def test_sleeves_are_told_apart_by_length_mouth_and_place(tmp_path: Path) -> None:
    kinds = [{"length": "481 mm"}, {"length": "700 mm"}, {"length": "481 mm", "mouth": "radio"}]
    own = [OWN | of | {"id": f"s{n}"} for n, of in enumerate((*kinds, {}))]
    own.append(OWN | {"id": "both", "length": "300 mm", "position": ["0.40 m", "0.60 m"]})
    labels = [c.label for c in load_study(small_study_file(tmp_path, chokes=own)).chokes]
    assert labels == [
        "28x1 mm sleeve, 481 mm, mouth to antenna",
        "28x1 mm sleeve, 700 mm, mouth to antenna",
        "28x1 mm sleeve, 481 mm, mouth to radio",
        "28x1 mm sleeve, mouth to antenna",
        "28x1 mm sleeve, 300 mm, mouth to antenna, at 0.40 m",
        "28x1 mm sleeve, 300 mm, mouth to antenna, at 0.60 m",
    ]


@cache
def _sized(radius: float, shield: float, mhz: float, up: bool) -> tuple[float, float]:
    """Asymmetry of feed and mouth, and average gain, of a sleeve below a rod."""
    quarter = 299.792458 / mhz / 4
    sleeve = Walls(0.6 * quarter, quarter, radius, 1e-3, shield, 1e30, up)
    of = Lengths(0.011, quarter, 0.01, shield, 4.5 * quarter, sleeve)
    done = solve(of, np.array([1e6 * mhz]))
    return transfer_asymmetry(done.ports[0], 0), average_gain(done, 0)


# 0.2 to 4.5 % and 0.96 to 1.03 found over 15 to 42 mm, shields of 3.6 to 8.1 mm.
@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("mhz", [50.0, 145.0, 435.0])
@pytest.mark.parametrize(("radius", "shield"), [(0.0075, 0.0018), (0.021, 0.0041)])
def test_narrow_and_wide_sleeves_are_drawn_soundly(
    radius: float, shield: float, mhz: float, up: bool
) -> None:
    asymmetry, average_gain = _sized(radius, shield, mhz, up)
    assert asymmetry < 0.05
    assert average_gain == pytest.approx(1, abs=0.05)


# Refusals


# Across the bend at 0.7 m, before a run of 0.7 m that is too short for the longer of two sleeves;
# too near either end of a run: the nearest place in it.
@pytest.mark.parametrize(
    ("length", "place", "mouth", "remedy"),
    [
        (0.58, 0.668, "antenna", "position: 2.121 m"),
        (0.45, 0.668, "antenna", "position: 0.801 m"),
        (0.45, 0.705, "radio", "position: 0.72 m"),
        (0.50, 1.455, "radio", "position: 1.45 m"),
        (0.50, 1.515, "antenna", "position: 1.49 m"),
    ],
)
def test_a_remedy_for_its_place_is_near_and_can_be_followed(
    length: float, place: float, mouth: str, remedy: str, tmp_path: Path
) -> None:
    route = [{"out": "0.7 m"}, {"down": "0.7 m"}, {"left": "0.62 m"}, {"down": "2 m"}]
    cable = {"type": "10.3 mm foam low-loss", "route": route}
    own = OWN | {"length": f"{length} m", "mouth": mouth}

    def drawn(position: str) -> None:
        chokes = [own | {"position": position}]
        found = load_study(small_study_file(tmp_path, cable=cable, chokes=chokes))
        (plan,) = (p for p in geometry_plans(found) if p.choke == found.chokes[0])
        structure(found, plan)

    with pytest.raises((StudyError, GeometryError)) as caught:
        drawn(f"{place} m")
    assert caught.value.faults[0].remedy == remedy
    drawn(remedy.removeprefix("position: "))


def test_a_sleeve_too_near_a_bend_or_too_narrow_is_refused_before_it_is_drawn(
    tmp_path: Path,
) -> None:
    with pytest.raises(StudyError, match="without straight cable for its mouth"):
        read(tmp_path, position="0.19 m")
    # The other way round its plate may lie there.
    read(tmp_path, position="0.24 m", mouth="radio")
    # 2.6 times 8.13 mm is 21.138 mm: pipe is not bought to the micrometre.
    with pytest.raises(
        StudyError, match=r"too narrow for a shield[\s\S]*a pipe of 21\.2 mm or more"
    ):
        read(tmp_path, pipe="15x1 mm")
