"""The page of limits: what NEC-2 and this project cannot do, what is done instead, how well.

Nothing of a study goes in; ``limits.html`` comes out beside its report. Limits of grades are taken
from the code that grades. Every number that was measured once is one that a test asserts.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from models.site.earth import STAR_ARM, STAR_ARMS, STAR_HEIGHT
from models.site.feedline_route import LOWEST_RUN
from models.wires.segmentation import MAX_WAVELENGTHS_PER_SEGMENT, MIN_LENGTH_PER_RADIUS
from pipeline.chokes.ferrite import FERRITE_SPREAD
from pipeline.mesh.evidence import LIMITS
from pipeline.report.page import page_environment, style_sheet
from pipeline.runtime.store import write_text
from pipeline.study.sections.installation import HIGHEST_FREQUENCY, LOWEST_FREQUENCY

# The page's name beside a report.
PAGE = "limits.html"


@dataclass(frozen=True)
class Bound:
    """A number of the page and the test that asserts it, as path::function."""

    value: float
    test: str

    @property
    def file(self) -> str:
        """File of the test."""
        return self.test.partition("::")[0]

    @property
    def sentence(self) -> str:
        """What the test says, in words."""
        return self.test.partition("::test_")[2].replace("_", " ")


_TUBES = "tests/validation/test_surface_tubes.py::test_"
_OWN = "tests/report/test_known_limits.py::test_"
_SOLVES = "tests/solver/test_properties_of_solves.py::test_"
_CLOSE = "legs_that_stand_close_are_further_off_and_say_so_themselves"
_COIL = "tests/solver/test_coil_as_wire.py::test_"
_WHERE_PORTS_DISAGREE = (
    "feed_and_cable_are_reciprocal_to_the_limit_any_two_ports_to_sixteen_per_cent"
)

# In the order in which the page shows them.
BOUNDS = {
    "step": Bound(0.2, _OWN + "a_step_in_radius_where_the_cable_joins_breaks_reciprocity"),
    "no_step": Bound(0.05, _OWN + "a_step_in_radius_where_the_cable_joins_breaks_reciprocity"),
    "frequency": Bound(
        0.0017,
        _TUBES + "frequency_scale_is_within_a_sixth_of_a_per_cent_of_the_tubes",
    ),
    "impedance": Bound(
        0.043,
        _TUBES + "impedance_is_within_one_part_in_23_of_the_tubes_at_the_same_frequency",
    ),
    "shield_current_db": Bound(
        0.45,
        _TUBES + "current_on_the_shield_is_within_half_a_decibel_of_the_tubes",
    ),
    "gap": Bound(0.07, _TUBES + "conductance_of_a_gap_in_the_shield_is_within_seven_per_cent"),
    "close": Bound(0.14, _TUBES + _CLOSE),
    "close_db": Bound(0.55, _TUBES + _CLOSE),
    "ports": Bound(0.16, _SOLVES + _WHERE_PORTS_DISAGREE),
    "cut": Bound(0.005, _SOLVES + "an_endless_choke_is_a_shield_that_is_cut"),
    "coil_inductance": Bound(
        0.12, _COIL + "the_wire_model_has_the_inductance_of_the_handbook_at_low_frequency"
    ),
    "coil_share": Bound(0.2, _COIL + "at_145_megahertz_the_coil_is_no_inductor"),
    "coil_change": Bound(0.04, _OWN + "a_little_more_or_less_diameter_decides_what_a_coil_does"),
    "contact": Bound(3.0, _OWN + "a_wire_end_on_soil_does_not_settle_and_a_star_does"),
    "star": Bound(0.03, _OWN + "a_wire_end_on_soil_does_not_settle_and_a_star_does"),
    "field_db": Bound(
        0.1,
        "tests/solver/test_far_field.py::test_"
        "fields_agree_with_the_pattern_of_the_solver_within_a_tenth_of_a_decibel",
    ),
}


def limits_page() -> str:
    """The whole page as text."""
    css, digest = style_sheet()
    return (
        page_environment()
        .get_template("limits.html.j2")
        .render(
            css=css,
            digest=digest,
            limits=LIMITS,
            bounds=BOUNDS,
            numbers={name: k for k, name in enumerate(BOUNDS, start=1)},
            star=(STAR_ARMS, STAR_ARM, STAR_HEIGHT),
            lowest_run=LOWEST_RUN,
            wavelengths_per_segment=MAX_WAVELENGTHS_PER_SEGMENT,
            radii_per_segment=MIN_LENGTH_PER_RADIUS,
            frequencies=(LOWEST_FREQUENCY, HIGHEST_FREQUENCY),
            ferrite_spread=FERRITE_SPREAD,
        )
    )


def write_limits(results: Path) -> None:
    """Write the page into a results folder."""
    write_text(results / PAGE, limits_page())
