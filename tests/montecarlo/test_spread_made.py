"""How a choke was made: sleeves that came out longer or shorter, coils that were wound wider."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.constants import epsilon_0, mu_0
from scipy.special import ellipe, ellipk

from models.wires.structure import Port, Structure, Wire, grid_point
from pipeline.analysis.case_results import Solved, at_centre, evaluate
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.circuit.coil import coil_impedance
from pipeline.circuit.line import surface_resistance
from pipeline.montecarlo.direct_solves import COMPARED, recheck
from pipeline.montecarlo.draws import circuit_draws, quantile, unknowns_of, varied_study
from pipeline.montecarlo.spread import Spread, run
from pipeline.montecarlo.spread_solve import Drawn, candidates, choke_rows, left_out, settled
from pipeline.montecarlo.spread_verdict import choose
from pipeline.report.spread_words import (
    left_out_sentence,
)
from pipeline.solver.cases import CABLE, IDEAL, NONE, cases, geometry_plans
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.solver.structures import structure
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from tests.harness.made_spreads import COIL, CORE, KNOWN, LUMPED, judgement, pitch_of, read, wound
from tests.harness.small_study import choke, study

# Published: the short-circuited line


def impedances(spread: Spread, name: str) -> np.ndarray:
    return spread.found[name]["r_ohm"] + 1j * spread.found[name]["x_ohm"]


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
    found = choke("sleeve")
    assert isinstance(found, SleeveChoke)
    return found


@pytest.mark.parametrize("factor", [0.97, 0.98, 0.99, 1.01, 1.02, 1.03])
def test_off_its_length_a_sleeve_is_the_reactance_of_a_shorted_line(factor):
    # Pozar eq. 2.45 (from memory): Z = j Z0 tan(beta l), a quarter wave being where it resonates;
    # near it that is Z0 over the angle that is missing, 21 Z0 at three per cent.
    z0, _ = textbook_line()
    (z,) = sleeve().drawn_impedance(study().host, {"sleeve": np.array([factor])})
    assert z.imag == pytest.approx(z0 * np.tan(factor * np.pi / 2), rel=5e-3)
    assert abs(z.imag) == pytest.approx(2 / np.pi * z0 / abs(factor - 1), rel=5e-3)


def test_at_its_length_a_sleeve_is_a_parallel_circuit_with_the_loss_of_its_metal():
    # Pozar sec. 6.2 (from memory): a shorted quarter wave has Z0 / (alpha l), 3 % off it is two
    # decades less; shorter it is a coil, longer a capacitor.
    z0, alpha = textbook_line()
    short, right, long = sleeve().drawn_impedance(
        study().host, {"sleeve": np.array([0.97, 1.0, 1.03])}
    )
    resonant = z0 / (alpha * sleeve().extent(study().host))
    assert abs(right) == pytest.approx(resonant, rel=0.03)
    assert short.imag > 0 > long.imag
    assert abs(right) > 50 * max(abs(short), abs(long))


def test_a_row_of_lengths_is_one_length_at_a_time():
    factors = np.linspace(0.97, 1.03, 7)
    together = sleeve().drawn_impedance(study().host, {"sleeve": factors})
    for k, factor in enumerate(factors):
        assert (
            together[k] == sleeve().drawn_impedance(study().host, {"sleeve": np.array([factor])})[0]
        )


# Draws of a sleeve


def test_a_drawn_sleeve_is_the_comparison_with_a_sleeve_of_that_length():
    # The same linear system with the ports that matter only.
    spread = wound("known")
    solved, made = full()
    sleeves = tuple(u for u in spread.unknowns if not u.geometric)
    factors = circuit_draws(made, sleeves, spread.u_circuit[0]).factors["sleeve"]
    assert factors.min() < 0.98 < 1.02 < factors.max()
    case = next(x for x in spread.cases if x.id == "sleeve")
    for k, factor in enumerate(factors):
        cut = replace(case.choke, length=factor * case.choke.extent(made.host))
        direct = evaluate(solved[CABLE], made, replace(case, choke=cut))
        assert impedances(spread, "sleeve")[k] == pytest.approx(direct.z_feed[0], rel=1e-8)
        assert spread.found["sleeve"]["station_ratio"][k] == pytest.approx(
            abs(direct.station_ratio[0]), rel=1e-7
        )


def test_only_sleeves_take_the_factor_on_their_length():
    spread = wound("known")
    assert np.ptp(np.abs(impedances(spread, "sleeve"))) > 0
    for name in (NONE, "core", "wound"):
        assert np.ptp(np.abs(impedances(spread, name))) < 1e-9


def test_a_study_without_a_sleeve_or_a_coil_does_not_wonder_how_they_were_made(tmp_path):
    with_both = {u.name for u in unknowns_of(read(tmp_path, {}))}
    without = {u.name for u in unknowns_of(read(tmp_path, {}, CORE))}
    assert with_both - without == {"sleeve", "coil_pitch"}
    asked = read(tmp_path, {"coil_pitch": {"from": 1.0, "to": 1.5}}, CORE, COIL)
    assert "coil_pitch" in {u.name for u in unknowns_of(asked) if u.geometric}


# Draws of a coil


@cache
def full() -> tuple[dict[str, Solved], Study]:
    """All geometries of the same study as a full run solves them, at the design frequency."""
    made = wound("known").study
    return {
        name: at_centre(
            Solved(r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil))
        )
        for name, r in requests(made).items()
    }, made


def test_with_nothing_drawn_a_coil_is_what_the_full_study_says_of_it():
    solved, made = full()
    by_id = {x.id: x for x in cases(made)}
    result, ideal = (evaluate(solved[by_id[n].geometry], made, by_id[n]) for n in ("wound", IDEAL))
    expected = result.merit(ideal.reference(0.0), 0.0)
    # A solve with a tenth of the ports: the same matrix, so no more than rounding apart.
    for merit in (wound("known").found["wound"], wound("known").stated["wound"]):
        for name in ("swr", "station_ratio", "shield_ratio", "mean_gain_dbi", "pattern_rms_db"):
            assert merit[name][0] == pytest.approx(expected[name][0], rel=1e-7, abs=1e-7)
        for name, change in expected.changes.items():
            assert merit.changes[name][0] == pytest.approx(change[0], rel=1e-7, abs=1e-7)
        assert merit["choke_share"][0] == 0.0


def test_the_coil_as_stated_is_the_same_whether_its_pitch_is_drawn_or_not():
    known, drawn = wound("known").stated["wound"], wound("drawn").stated["wound"]
    for name in ("r_ohm", "x_ohm"):
        assert drawn[name][0] == pytest.approx(known[name][0], rel=1e-9)


def test_draws_of_a_coil_are_what_the_solver_finds_with_its_own_load_cards():
    # LD of the NEC-2 user's guide (Burke and Poggio, 1981); the ideal choke on the cable's wires.
    for found in recheck(wound("drawn"), "wound", 2, 3):
        assert max(found.difference(name) for name in COMPARED) < 1e-6


def inductance(drawn: Drawn) -> float:
    """Of the coil as it is drawn, in one side of a loop of 0.25 m by 0.1 m; at 1 MHz. [H]"""
    (built,) = (coil.structure for coil in drawn.coils.values())
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


def test_a_wider_pitch_makes_less_inductance_as_maxwells_circles_do():
    # The turns themselves have the same inductance at any pitch. 9 % was found: turns are no
    # circles, and the loop couples to them a little.
    drawn = sorted(wound("drawn").drawn, key=pitch_of)
    found = np.diff([inductance(one) for one in drawn])
    expected = np.diff([between_turns(pitch_of(one)) for one in drawn])
    assert (found < 0).all()
    assert found.sum() == pytest.approx(expected.sum(), rel=0.15)


def test_every_draw_winds_the_coil_at_a_pitch_of_its_own_and_never_closer_than_its_cable():
    spread = wound("drawn")
    (unknown,) = (u for u in spread.unknowns if u.geometric)
    factors = quantile(unknown.spread, spread.u_geometric[:, 0], unknown.nominal)
    pitches = [pitch_of(drawn) for drawn in spread.drawn]
    assert pitches == pytest.approx(12e-3 * factors)
    assert len(set(pitches)) == spread.shape[0]
    assert min(pitches) >= spread.study.cable.type.jacket_diameter
    assert np.ptp(np.abs(impedances(spread, "wound"))) > 0.01
    # On the cable's own geometry nothing has changed.
    assert np.ptp(np.abs(impedances(spread, NONE))) < 1e-9


def test_a_lumped_coil_takes_the_pitch_by_its_formula(tmp_path):
    made = read(tmp_path, KNOWN | {"coil_pitch": {"from": 1.0, "to": 1.5}}, LUMPED, CORE)
    changed = varied_study(made, unknowns_of(made), np.array([0.5]))
    (found,) = (x for x in changed.chokes if isinstance(x, CoilChoke))
    assert found.pitch == pytest.approx(1.25 * 12e-3)
    (coil,) = (x for x in candidates(changed) if x.id == "lumped")
    drawn = replace(wound("known").nominal, study=settled(changed))
    circuit = circuit_draws(changed, (), np.empty((1, 0)))
    shield = made.cable.type.shield_diameter
    expected = coil_impedance(made.frequency, 3, 0.10, 15e-3, shield, 5.8e7)
    with pytest.raises(ValueError, match="not covered by ports"):
        choke_rows(drawn, coil, circuit)
    near = replace(coil, choke=replace(coil.choke, position=0.05))
    assert choke_rows(drawn, near, circuit).sum() == pytest.approx(complex(expected), rel=1e-3)


def test_a_coil_of_the_main_cable_has_the_drawn_jacket_and_another_keeps_its_own(tmp_path):
    other = COIL | {"id": "jumper", "cable": "5 mm foam low-loss", "pitch": "8 mm"}
    jacket = {"jacket": {"from": 3.0, "to": 3.5}, "coil_pitch": "known"}
    made = read(tmp_path, KNOWN | jacket, COIL, other)
    changed = varied_study(made, unknowns_of(made), np.array([0.5]))
    own, jumper = (x for x in changed.chokes if isinstance(x, CoilChoke))
    assert own.cable == changed.cable.type != made.cable.type
    assert jumper.cable == made.chokes[1].cable


def test_a_coil_hangs_below_its_bend_wherever_that_is_and_cores_stay_where_they_are(tmp_path):
    # The small study goes 0.17 m aside and then down; the coil hangs 0.43 m below that bend.
    route = [{"step": 1, "from": "0.1 m", "to": "0.3 m"}, {"step": 2, "off": "0.1 m"}]
    made = read(tmp_path, KNOWN | {"route": route, "coil_pitch": "known"}, COIL, CORE)
    changed = varied_study(made, unknowns_of(made), np.array([0.75, 0.2]))
    coil, core = changed.chokes
    assert changed.cable.route[0].length == pytest.approx(0.25)
    assert coil.position == pytest.approx(0.25 + 0.43)
    assert core == made.chokes[1]
    assert structure(changed, geometry_plans(changed)[2]).has_port("station")


# What takes part


def test_wire_coils_take_part_where_the_study_asks_for_them_and_the_answer_says_how(tmp_path):
    silent = read(tmp_path, {}, COIL, CORE)
    assert left_out(silent) == ("wound",)
    assert "wound" not in {x.id for x in candidates(silent)}
    for asked in ("known", {"from": 1.0, "to": 1.2}):
        wanted = read(tmp_path, {"coil_pitch": asked}, COIL, CORE)
        assert not left_out(wanted)
        assert "wound" in {x.id for x in candidates(wanted)}
    said = left_out_sentence(replace(wound("known"), left_out=("wound",)))
    assert "wound" in said
    assert "coil_pitch" in said
    assert left_out_sentence(wound("known")) == ""


def test_a_coil_that_was_not_drawn_well_enough_is_not_recommended():
    found = dict(judgement().candidates)
    poor = {name: replace(x, trusted=False) for name, x in found.items() if name == "wound"}
    sure = {name: replace(x.enough, value=0.99) for name, x in found.items() if name == "wound"}
    better = replace(found["wound"], chances=found["wound"].chances | {"invisible": sure["wound"]})
    bare = {NONE: replace(found[NONE], chances={"invisible": replace(better.enough, value=0.2)})}
    assert choose(bare | {"wound": better}) == "wound"
    assert choose(bare | {"wound": replace(better, trusted=poor["wound"].trusted)}) == NONE


def test_a_coil_that_does_not_hang_anywhere_is_refused_at_once_with_its_own_fault(tmp_path):
    # The last half metre of the small study's cable runs level.
    with pytest.raises(StudyError, match=r"chokes\.wound\.position.*\[coil-no-room\]"):
        run(read(tmp_path, {"coil_pitch": "known"}, COIL | {"position": "1.8 m"}), 1)
