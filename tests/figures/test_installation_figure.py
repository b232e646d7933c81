"""The picture of an installation: no name is cut off, and nothing hides behind something else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure

from pipeline.figures.installation import Scene, installation_page
from pipeline.figures.style import style
from pipeline.solver.cases import geometry_plans
from pipeline.solver.structures import structure
from pipeline.study.reader import load_study
from tests.harness.small_study import small_study_file

ALONG = ["-2 m, -0.3 m, 2 m", "2 m, -0.3 m, 2 m"]
RAILING = {"name": "railing", "diameter": "42 mm", "points": ALONG}
DOWN = [{"out": "0.15 m"}, {"down_to": "0.5 m"}, {"bond": "here"}]


def picture(folder: Path, joins: str, *steps: dict[str, str], **site: Any) -> Figure:
    """The figure of an installation whose cable goes a certain way."""
    cable = {"type": "RG-213/U", "joins": joins, "route": [*DOWN, *steps]}
    around = {"height": "3 m", "ground": "average"} | site
    chokes = [{"id": "p", "kind": "ideal", "position": "0.05 m"}]
    study = load_study(small_study_file(folder, cable=cable, site=around, chokes=chokes))
    drawn = {plan.name: structure(study, plan) for plan in geometry_plans(study)[:2]}
    with style():
        return installation_page(drawn, Scene(study.title, study.frequency)).figure


@pytest.mark.parametrize("joins", ["long leg", "short leg"])
def test_names_stay_in_their_picture_whichever_way_the_cable_leads(tmp_path, joins):
    figure = picture(tmp_path, joins, {"out": "6 m"}, metalwork=[RAILING])
    main, near = figure.axes[:2]
    room = main.get_window_extent(figure.canvas.get_renderer())
    other = near.get_tightbbox(figure.canvas.get_renderer())
    said = [text for text in main.texts if text.get_text().strip()]
    assert {"antenna", "railing"} <= {text.get_text().strip() for text in said}
    for text in said:
        box = text.get_window_extent()
        assert box.x0 >= room.x0
        assert box.x1 <= other.x0


def test_bond_and_radio_close_together_are_named_one_above_the_other(tmp_path):
    main = picture(tmp_path, "short leg", {"out": "1.2 m"}).axes[0]
    said = {text.get_text().split()[0]: text for text in main.texts if " at " in text.get_text()}
    bond, radio = (said[name].get_window_extent() for name in ("bond", "radio"))
    assert not bond.overlaps(radio)


def test_what_leaves_the_plane_is_shown_from_above_as_well(tmp_path):
    flat = picture(tmp_path, "short leg", {"out": "6 m"})
    turned = picture(tmp_path, "short leg", {"left": "3 m"}, {"out": "4 m"})
    assert len(flat.axes) == 2
    main, _, plan = turned.axes
    assert plan.get_title(loc="left") == "from above, to the same scale"
    assert (plan.get_xlabel(), plan.get_ylabel()) == ("x [m]", "y [m]")
    assert plan.get_xlim() == main.get_xlim()
    low, high = plan.get_ylim()
    assert low < -0.35
    assert high > 3.0
