"""The coil and the sleeve that every study is judged with: where, and where there is none."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest

from models.catalogues.parts import bore
from pipeline.chokes.kind import Choke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.solver.cases import geometry_plans
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.solver.structures import structure
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import small_study_file

STUDIES = Path(__file__).parents[2] / "models" / "studies"
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7"}
COIL = {"id": "own", "kind": "coil", "turns": 4, "diameter": "0.2 m", "position": "0.4 m"}
MAST = {"material": "metal", "diameter": "40 mm", "length": "3 m", "stand_off": "0.50 m",
        "towards": "front"}  # fmt: skip
GROUND = {"height": "8 m", "ground": "average"}
DOWN = {"type": "10.3 mm foam low-loss", "route": [{"out": "0.15 m"}, {"down": "6 m"}]}


def read(**changes: object) -> Study:
    listed = {"chokes": [CORE], "site": GROUND, "cable": DOWN}
    with tempfile.TemporaryDirectory() as folder:
        return load_study(small_study_file(Path(folder), **(listed | changes)))


def coils(study: Study) -> list[str]:
    return [c.id for c in study.chokes if c.is_drawn and c.helix]


def sleeves(study: Study) -> list[Choke]:
    return [c for c in study.chokes if c.is_resonant]


def told(study: Study, of: str = "coil") -> str:
    return next(s for s in study.defaults if s.startswith("chokes: ") and of in s)


@pytest.mark.parametrize("name", [path.stem for path in shipped_studies()])
def test_every_study_is_judged_with_a_coil_of_its_cable_that_can_be_drawn(name: str) -> None:
    study = with_standard_chokes(load_study(STUDIES / f"{name}.yaml"))
    main = study.cable.type
    wound = [p for p in geometry_plans(study) if p.choke and p.choke.helix]
    plans = [p for p in wound if p.choke and p.choke.cable_along(main) == main]
    assert plans
    assert all("coil" in structure(study, plan).parts() for plan in plans)


def test_one_is_added_to_listed_cores_and_that_is_said() -> None:
    study = with_standard_chokes(read())
    assert coils(study) == ["coil-9"]
    assert told(study).startswith("chokes: coil-9 is judged as well: 9 turns of the cable")
    # A hand's width below the bend at the wall.
    assert "starting 0.30 m from the antenna" in told(study)


def test_none_is_added_beside_a_coil_of_the_same_cable() -> None:
    own = read(chokes=[COIL])
    assert coils(with_standard_chokes(own)) == coils(own)


def test_one_is_added_beside_a_coil_that_is_a_jumper_or_a_lumped_part() -> None:
    for other in ({"cable": "5 mm foam low-loss"}, {"model": "lumped"}):
        assert "coil-9" in coils(with_standard_chokes(read(chokes=[COIL | other])))


def test_it_gets_a_name_that_no_candidate_has() -> None:
    taken = CORE | {"id": "coil-9"}
    assert coils(with_standard_chokes(read(chokes=[taken]))) == ["coil-9-standard"]


def test_it_hangs_below_the_bend_from_which_the_cable_first_goes_down() -> None:
    aside = [{"out": "0.15 m"}, {"left": "2 m"}, {"down": "6 m"}]
    study = with_standard_chokes(read(cable=DOWN | {"route": aside}))
    (coil,) = (c for c in study.chokes if c.helix)
    assert coil.position == pytest.approx(2.15 + 0.15)


@pytest.mark.parametrize("listed", [{}, {"chokes": [CORE]}])
def test_a_cable_that_goes_down_nowhere_far_enough_has_none_and_says_so(
    listed: dict[str, object], tmp_path: Path
) -> None:
    short = DOWN | {"route": [{"out": "0.15 m"}, {"down": "0.25 m"}, {"out": "6 m"}]}
    path = small_study_file(tmp_path, site=GROUND, cable=short, **({"chokes": [CORE]} | listed))
    if not listed:
        text = path.read_text(encoding="utf-8")
        path.write_text(text[: text.index("chokes:")] + text[text.index("frequency:") :])
    study = with_standard_chokes(load_study(path))
    assert coils(study) == []
    assert told(study) == (
        "chokes: no coil of the cable: nowhere does it go straight down far enough for one"
    )


def test_where_turns_would_meet_a_mast_there_is_none_and_the_study_is_judged_all_the_same() -> None:
    study = read(site=GROUND | {"mast": MAST})
    wider = with_standard_chokes(study)
    assert coils(wider) == []
    assert told(wider) == (
        "chokes: no coil of the cable: something is in its way, 0.30 m from the antenna"
    )
    assert coils(wider) == coils(study)


# The sleeve


def test_a_study_without_a_sleeve_gets_the_narrowest_that_leaves_air_around_the_cable() -> None:
    study = with_standard_chokes(read())
    (sleeve,) = sleeves(study)
    assert isinstance(sleeve, SleeveChoke)
    assert sleeve.price is None
    assert bore(sleeve.pipe) >= 2 * study.cable.type.jacket_diameter
    # Resonant at the study's frequency: all but open there, an ordinary inductance below.
    z = sleeve.impedance(np.array([0.5, 1.0]) * study.frequency, study.host)
    assert abs(z[1]) > 10 * abs(z[0])
    # It is as long as a quarter wave inside it and points up, so it hangs below the bend with
    # straight cable for its mouth.
    assert 0.15 + 0.05 < sleeve.position < 0.15 + 0.12
    assert told(study, "sleeve").startswith(f"chokes: {sleeve.id} is judged as well")
    (plan,) = (p for p in geometry_plans(study) if p.choke == sleeve)
    assert "sleeve" in structure(study, plan).parts()


def test_none_is_added_beside_one_that_is_listed_or_where_prices_decide() -> None:
    own = {"id": "mine", "kind": "sleeve", "pipe": "28x1 mm", "position": "0.5 m"}
    assert [c.id for c in sleeves(with_standard_chokes(read(chokes=[CORE, own])))] == ["mine"]
    assert sleeves(with_standard_chokes(read(chokes=[CORE | {"price": "5 EUR"}]))) == []
