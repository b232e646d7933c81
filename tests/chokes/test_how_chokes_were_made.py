"""How a choke was made: sleeves that came out longer or shorter, coils that were wound wider."""

from __future__ import annotations

import itertools
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.constants import epsilon_0, mu_0
from scipy.special import ellipe, ellipk

from models.wires.structure import Port, Structure, Wire, grid_point
from pipeline.analysis.case_results import Solved, at_centre, evaluate
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.circuit.coil import coil_impedance
from pipeline.circuit.ferrite_and_sleeve import (
    SleeveSection,
    sleeve_line,
    sleeve_quarter_wave_length,
)
from pipeline.circuit.line import surface_resistance
from pipeline.montecarlo.draws import AS_STATED, unknowns_of, varied_study
from pipeline.montecarlo.installations import Installations, drawn_of, install
from pipeline.solver.cases import NONE, cases, geometry_plans
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.solver.structures import structure
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.small_study import choke, small_study_file, study

KEYS = ("route", "height", "lead", "antenna", "jacket", "station", "ferrite", "temperature")
KNOWN = dict.fromkeys((*KEYS, "sleeve", "sleeve_centre", "coil_pitch"), "known")
PITCH = KNOWN | {"coil_pitch": {"from": 1.0, "to": 1.5}}
COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip
SLEEVE = {"id": "sleeve", "kind": "sleeve", "pipe": "28x1 mm", "position": "0.30 m"}
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.05 m"}


def read(folder: Path, unknowns: dict[str, object], *chokes: dict[str, object]) -> Study:
    listed = {"chokes": list(chokes)} if chokes else {}
    return load_study(small_study_file(folder, unknowns=unknowns, **listed))


# Published: the short-circuited line


def textbook_line() -> tuple[float, float]:
    """Impedance and loss per metre of the line inside the small study's sleeve.

    Pozar, Microwave Engineering, table 2.1 (from memory): L = mu ln(b/a) / 2 pi, C and R of a
    coaxial line; jacket and air are two capacitors in series.
    """
    f, cable = study().frequency, study().cable.type
    a, jacket, b = 0.5 * cable.shield_diameter, 0.5 * cable.jacket_diameter, 13e-3
    inductance = mu_0 * np.log(b / a) / (2 * np.pi)
    capacitance = (
        2 * np.pi * epsilon_0 / (np.log(jacket / a) / cable.jacket_eps_r + np.log(b / jacket))
    )
    z0 = np.sqrt(inductance / capacitance)
    resistance = sum(
        float(surface_resistance(f, sigma)) / (2 * np.pi * radius)
        for sigma, radius in ((5.8e7, a), (sleeve().pipe.sigma, b))
    )
    return z0, 0.5 * resistance / z0


def sleeve() -> SleeveChoke:
    """That of the small study, a quarter wave of its own line long."""
    found, host = choke("sleeve"), study().host
    assert isinstance(found, SleeveChoke)
    quarter = sleeve_quarter_wave_length(host.frequency, found.section(host.cable))
    return replace(found, length=quarter)


def made(factor: NDArray[np.float64], off_centre: float = 0.0) -> NDArray[np.complex128]:
    """Impedance of the line inside that sleeve when it came out like this. [ohm]"""
    factors = AS_STATED | {"sleeve": factor, "sleeve_centre": np.array([off_centre])}
    return sleeve().drawn_impedance(study().host, factors)


@pytest.mark.parametrize("factor", [0.97, 0.98, 0.99, 1.01, 1.02, 1.03])
def test_off_its_length_a_sleeve_is_the_reactance_of_a_shorted_line(factor: float) -> None:
    # Pozar eq. 2.45 (from memory): Z = j Z0 tan(beta l), a quarter wave being where it resonates;
    # near it that is Z0 over the angle that is missing, 21 Z0 at three per cent.
    z0, _ = textbook_line()
    (z,) = made(np.array([factor]))
    assert z.imag == pytest.approx(z0 * np.tan(factor * np.pi / 2), rel=5e-3)
    assert abs(z.imag) == pytest.approx(2 / np.pi * z0 / abs(factor - 1), rel=5e-3)


def test_at_its_length_a_sleeve_is_a_parallel_circuit_with_the_loss_of_its_metal() -> None:
    # Pozar sec. 6.2 (from memory): a shorted quarter wave has Z0 / (alpha l), 3 % off it is two
    # decades less; shorter it is a coil, longer a capacitor.
    z0, alpha = textbook_line()
    short, right, long = made(np.array([0.97, 1.0, 1.03]))
    resonant = z0 / (alpha * sleeve().inside(study().host))
    assert abs(right) == pytest.approx(resonant, rel=0.03)
    assert short.imag > 0 > long.imag
    assert abs(right) > 50 * max(abs(short), abs(long))


def test_a_row_of_lengths_is_one_length_at_a_time() -> None:
    factors = np.linspace(0.97, 1.03, 7)
    together = made(factors)
    for k, factor in enumerate(factors):
        assert together[k] == made(np.array([factor]))[0]


@pytest.mark.parametrize("off_centre", [0.3, 0.6])
def test_a_cable_off_centre_lowers_the_impedance_and_makes_its_sleeve_long(
    off_centre: float,
) -> None:
    # W. R. Smythe, "Static and Dynamic Electricity", sect. 4.14 (from memory): of a bare rod e off
    # the middle Z0 = 59.96 arcosh((D^2 + d^2 - 4 e^2) / (2 D d)), its velocity that of light.
    bare = SleeveSection(8e-3, 8e-3, 1.0, 26e-3, 1e30, 1e30)
    e = off_centre * 9e-3
    z0 = sleeve_line(145e6, bare, off_centre)[0]
    squares = 26e-3**2 + 8e-3**2 - 4 * e**2
    expected = 59.958 * np.arccosh(squares / (2 * 26e-3 * 8e-3))
    assert complex(z0).real == pytest.approx(expected, rel=1e-4)
    # With a jacket the air beside it counts for less: the line is slower, 0.3 and 2 %.
    assert made(np.array([0.998]), 0.0)[0].imag > 0 > made(np.array([0.998]), off_centre)[0].imag


# Draws of a sleeve


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Installations:
    """One drawing on which only the sleeve's length is unknown."""
    unknowns = KNOWN | {"sleeve": {"from": 0.97, "to": 1.03}, "draws": 128}
    return install(read(tmp_path_factory.mktemp("drawn"), unknowns, SLEEVE, CORE), 1)


def test_a_drawn_sleeve_is_the_comparison_with_a_sleeve_of_that_length(
    drawn: Installations,
) -> None:
    # The same linear system with the ports that matter only.
    (one,) = drawn.drawn
    own, f = one.study, one.study.frequency
    r = requests(own)["wire-sleeve"]
    full = at_centre(
        Solved(r.structure, solve_basis(r.structure, np.array([f]), 0, r.soil, r.azimuths))
    )
    factors = one.draws.factors["sleeve"]
    assert factors.min() < 0.98 < 1.02 < factors.max()
    (case,) = (c for c in cases(own) if c.id == "sleeve")
    _, found = drawn_of(one, case, None, False)
    for k, factor in enumerate(factors[:16]):
        cut = replace(case.choke, length=factor * case.choke.inside(own.host))
        direct = evaluate(full, own, replace(case, choke=cut))
        z = found["r_ohm"][k] + 1j * found["x_ohm"][k]
        assert z == pytest.approx(direct.z_feed[0], rel=1e-8)
        assert found["station_ratio"][k] == pytest.approx(abs(direct.station_ratio[0]), rel=1e-7)


def test_only_sleeves_take_the_factor_on_their_length(drawn: Installations) -> None:
    spread = {name: np.ptp(found[0]["r_ohm"]) for name, found in drawn.found.items()}
    assert "sleeve" not in spread
    assert max(spread[NONE], spread["core"]) < 1e-9


def test_a_study_without_a_sleeve_does_not_wonder_how_it_was_made(tmp_path: Path) -> None:
    with_one = {u.name for u in unknowns_of(read(tmp_path, {}, SLEEVE, CORE))}
    without = {u.name for u in unknowns_of(read(tmp_path, {}, CORE))}
    assert "sleeve" in with_one - without


# Draws of a coil


@cache
def wound() -> tuple[tuple[float, Structure], ...]:
    """Eight pitches of one coil, and the coil as it is drawn at each. [m]"""
    with tempfile.TemporaryDirectory() as folder:
        made = read(Path(folder), PITCH, COIL, CORE)
    geometric = tuple(u for u in unknowns_of(made) if u.geometric)
    found = []
    for u in np.linspace(0.05, 0.95, 8):
        changed = varied_study(made, geometric, np.full(len(geometric), u))
        (coil,) = (c for c in changed.chokes if isinstance(c, CoilChoke))
        plan = next(p for p in geometry_plans(changed) if p.choke is coil)
        found.append((coil.pitch, structure(changed, plan)))
    return tuple(found)


def inductance(built: Structure) -> float:
    """Of the coil as it is drawn, in one side of a loop of 0.25 m by 0.1 m; at 1 MHz. [H]"""
    turns = [w for w in built.wires if w.part == "coil"]
    top, bottom = np.array(turns[0].start), np.array(turns[-1].end)
    aside, foot = np.array([0.0, 0.25, 0.0]), top - [0.0, 0.0, 0.1]
    corners = [grid_point(p) for p in (bottom, foot, foot + aside, top + aside, top)]
    wires = [
        *turns,
        *(
            Wire(start, end, n, turns[0].radius, "return")
            for (start, end), n in zip(itertools.pairwise(corners), (3, 9, 5, 9), strict=True)
        ),
    ]
    loop = Structure("coil", tuple(wires), (Port("feed", len(wires) - 2, 2),))
    f = np.array([1e6])
    y = unit_source_currents(loop, f, None, True)[0, 0, loop.port_segments[0]]
    return float((1 / y).imag / (2 * np.pi * f[0]))


def between_turns(pitch: float) -> float:
    """What three turns of 0.1 m have from each other, less the straight wire they replace. [H]

    Maxwell, Treatise (1873), art. 701: mutual inductance of two coaxial circles,
    mu0 r ((2 / k - k) K - 2 E / k), k^2 = 4 r^2 / (4 r^2 + d^2).
    """
    turns, r, wire, loop = 3, 0.05, 4.065e-3, 0.1

    def mutual(apart: float) -> float:
        m = 4 * r**2 / (4 * r**2 + apart**2)
        k = np.sqrt(m)
        return float(mu_0 * r * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m)))

    straight = mu_0 / (2 * np.pi) * turns * pitch * np.log(loop / wire)
    return 4 * mutual(pitch) + 2 * mutual(2 * pitch) - float(straight)


def test_a_wider_pitch_makes_less_inductance_as_maxwells_circles_do() -> None:
    # The turns themselves have the same inductance at any pitch. 9 % was found: turns are no
    # circles, and the loop couples to them a little.
    found = np.diff([inductance(built) for _, built in wound()])
    expected = np.diff([between_turns(pitch) for pitch, _ in wound()])
    assert (found < 0).all()
    assert found.sum() == pytest.approx(expected.sum(), rel=0.15)


def test_every_draw_winds_the_coil_at_a_pitch_of_its_own_and_never_closer_than_its_cable() -> None:
    pitches = [pitch for pitch, _ in wound()]
    assert pitches == sorted(set(pitches))
    assert min(pitches) >= study().cable.type.jacket_diameter
    assert 12e-3 <= min(pitches) < max(pitches) <= 18e-3


def test_a_lumped_coil_takes_the_pitch_by_its_formula(tmp_path: Path) -> None:
    # Coil of the handbook's formula at the pitch that was drawn.
    made = read(tmp_path, PITCH, COIL | {"id": "lumped", "model": "lumped"}, CORE)
    geometric = tuple(u for u in unknowns_of(made) if u.geometric)
    changed = varied_study(made, geometric, np.array([0.5] * len(geometric)))
    (found,) = (x for x in changed.chokes if isinstance(x, CoilChoke))
    assert 12e-3 < found.pitch < 18e-3
    shield = made.cable.type.shield_diameter
    expected = coil_impedance(made.frequency, 3, 0.10, found.pitch, shield, 5.8e7)
    f = np.array([made.frequency])
    assert complex(found.impedance(f, changed.host)[0]) == pytest.approx(complex(expected))


def test_a_coil_of_the_main_cable_has_the_drawn_jacket_and_another_keeps_its_own(
    tmp_path: Path,
) -> None:
    other = COIL | {"id": "jumper", "cable": "5 mm foam low-loss", "pitch": "8 mm"}
    jacket = {"jacket": {"from": 3.0, "to": 3.5}, "coil_pitch": "known"}
    made = read(tmp_path, KNOWN | jacket, COIL, other)
    changed = varied_study(made, unknowns_of(made), np.array([0.5]))
    own, jumper = (x for x in changed.chokes if isinstance(x, CoilChoke))
    assert own.cable == changed.cable.type != made.cable.type
    assert jumper.cable == made.chokes[1].cable


def test_a_coil_hangs_below_its_bend_wherever_that_is_and_cores_stay_where_they_are(
    tmp_path: Path,
) -> None:
    # The small study goes 0.17 m aside and then down; the coil hangs 0.43 m below that bend.
    route = [{"step": 1, "from": "0.1 m", "to": "0.3 m"}, {"step": 2, "off": "0.1 m"}]
    made = read(tmp_path, KNOWN | {"route": route, "coil_pitch": "known"}, COIL, CORE)
    changed = varied_study(made, unknowns_of(made), np.array([0.75, 0.2]))
    coil, core = changed.chokes
    assert changed.cable.route[0].length == pytest.approx(0.25)
    assert coil.position == pytest.approx(0.25 + 0.43)
    assert core == made.chokes[1]
    assert structure(changed, geometry_plans(changed)[2]).has_port("station")
