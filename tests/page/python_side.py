"""What Python makes of a reader's settings: its own kernel on the solves that the page carries."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.case_results import CaseResult, Solved, bare_route, station_current
from pipeline.analysis.figures_of_merit_and_score import Reference
from pipeline.chokes.kind import SLACK, Choke
from pipeline.circuit.port_algebra import OPEN, fed_voltages, port_currents
from pipeline.live.kinds import LiveKind, kinds_of
from pipeline.live.packing import unpack
from pipeline.live.payload import told_at
from pipeline.live.ports import movable_ranges
from pipeline.live.solves import Source, live_solves
from pipeline.solver.cases import CABLE, Case, ideal_choke
from pipeline.solver.solve_cache import requests
from pipeline.solver.terminations import choke_series, choke_weights, terminations
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from pipeline.text.yaml_reading import read_yaml
from pipeline.workflow.solves import Solves, read_centres, with_bands
from pipeline.workflow.stages import DRAWINGS

ROOT = Path(__file__).parents[2]
STUDIES = (ROOT / "models" / "studies", ROOT / "tests" / "studies" / "good")
Setting = dict[str, Any]


@dataclass(frozen=True)
class PythonSide:
    """A study with its solves, at the frequencies that the page tells, and its kinds of choke."""

    study: Study
    solved: Mapping[str, Solved]
    kinds: Mapping[str, LiveKind]
    cables: Mapping[str, str]
    elevation_deg: float
    rng: np.random.Generator

    def impedance(self, settings: Setting) -> tuple[Study, list[Choke], str]:
        """Study with the ends of a setting, chokes on its cable, and the geometry they are in."""
        bond, radio = settings["bond"], settings["radio"]
        study = replace(
            self.study,
            station=replace(
                self.study.station, impedance=None if radio == "open" else complex(*radio)
            ),
        )
        if study.bond is not None:
            rod = OPEN if bond == "none" else complex(*bond)
            study = replace(study, bond=replace(study.bond, rod_impedance=complex(rod)))
        chokes = [self.choke(one) for one in (settings["first"], settings["second"]) if one]
        cable = self.cables[settings["variant"]]
        drawn = next((f"wire-{c.id}" for c in chokes if c.is_drawn), cable)
        return study, chokes, drawn

    def choke(self, placed: Mapping[str, Any]) -> Choke:
        kind = self.kinds[placed["kind"]]
        return replace(kind.one, count=placed["count"], position=placed["position"])

    def result(self, study: Study, chokes: list[Choke], geometry: str) -> CaseResult:
        """A case with any number of chokes, whose impedances add up on the ports."""
        solved = self.solved[geometry]
        built, basis, band = solved.structure, solved.basis, solved.band
        assert band is not None
        feed = built.port_index("feed")

        def driven(f: NDArray[Any], y: NDArray[Any]) -> tuple[NDArray[Any], ...]:
            z_choke = np.zeros((len(f), len(built.ports)), complex)
            for choke in chokes:
                z_choke = z_choke + choke_series(built, study, choke, f)
            z = terminations(built, study, f) + z_choke
            w = fed_voltages(y, z, feed)
            return z, z_choke, w, port_currents(y, w)

        owner = next((c for c in chokes if c.is_drawn or c.helix is not None), None)
        named = owner or (chokes[0] if chokes else None)
        case = Case("set", "as set", geometry, named)
        line = study.cable.run(owner, bare_route(built, study, owner))
        found = CaseResult(study, case, solved, *driven(basis.frequency, basis.y_port), line)
        *_, current = driven(band.frequency, band.y_port)
        # What a case finds by itself with its one choke.
        vars(found)["_over_band"] = (current[:, feed], station_current(built, current))
        return found

    def reference(self, study: Study, variant: str) -> Reference:
        best = self.result(study, [ideal_choke(study)], self.cables[variant])
        return best.reference(self.elevation_deg)

    def outcome(self, setting: Setting) -> dict[str, Any]:
        """Figures of merit, score, band and shield of a setting, as the page names them."""
        study, chokes, geometry = self.impedance(setting)
        found = self.result(study, chokes, geometry)
        merit = found.merit(self.reference(study, setting["variant"]), self.elevation_deg)
        figures = {name: float(values[0]) for name, values in merit.values.items()}
        over = {name: float(values[0]) for name, values in merit.over_thresholds.items()}
        one = len(chokes) == 1
        return {
            "figures": figures | ({"hottest_power": _hottest(found)} if one else {}),
            "over": over,
            "score": float(merit.score()[0]),
            "reason": max(over, key=lambda name: over[name]),
            "shield": np.abs(found.shield_ratio),
            "heat": [found.choke_power] if one else None,
            "band": {
                "frequency": found.frequency,
                "r": found.z_feed.real,
                "x": found.z_feed.imag,
                "swr": found.swr_feed,
                "swrRadio": found.swr_radio,
                "station": np.abs(found.station_ratio),
            },
            "pattern": found.gain,
        }

    def may_be_set(self, setting: Setting) -> bool:
        """Whether Python would compute a setting."""
        _, chokes, geometry = self.impedance(setting)
        built, host = self.solved[geometry].structure, self.study.host
        if geometry not in self.cables.values():
            if self.cables[setting["variant"]] != CABLE:
                return False
            (choke,) = chokes if len(chokes) == 1 else (None,)
            stated = [c for c in self.study.chokes if c.is_drawn]
            return choke in [replace(c, count=1) for c in stated]
        for choke in chokes:
            end = choke.position + choke.extent(host)
            if choke.shorter and walk_of(self.study).bends_under(
                choke.position, choke.extent(host)
            ):
                return False
            if end > walk_of(self.study).length + SLACK or not _covered(built, choke):
                return False
        if len(chokes) == 2:
            first, second = sorted(chokes, key=lambda c: c.position)
            if first.position + first.extent(host) > second.position + SLACK:
                return False
            return not all(c.own_cable(self.study.cable.type) > 0 for c in chokes)
        return True

    def settings(self, count: int) -> Iterator[Setting]:
        """Random settings, most of which can be computed."""
        for _ in range(count):
            variant = str(self.rng.choice(list(self.cables)))
            first, second = self._placed(0.9, variant), self._placed(0.4, variant)
            if first and self.kinds[first["kind"]].one.is_drawn and self.rng.random() < 0.9:
                second = None
            yield {
                "variant": variant,
                "first": first,
                "second": second,
                "bond": self._end("none"),
                "radio": self._end("open"),
                "frequency": float(self.rng.choice(self.told)),
            }

    @property
    def told(self) -> NDArray[np.float64]:
        band = self.solved[CABLE].band
        assert band is not None
        return band.frequency

    def _placed(self, chance: float, variant: str) -> dict[str, Any] | None:
        if self.rng.random() > chance:
            return None
        kind = self.kinds[str(self.rng.choice(list(self.kinds)))]
        ranges = movable_ranges(self.solved[self.cables[variant]].structure)
        place = float(self.rng.uniform(*ranges[self.rng.integers(len(ranges))]))
        if kind.one.is_drawn:
            place = kind.one.position
        count = int(self.rng.integers(1, kind.most + 1))
        return {"kind": kind.id, "count": count, "position": place}

    def _end(self, off: str) -> Any:
        if self.rng.random() < 0.2:
            return off
        if self.rng.random() < 0.2:
            return [0.0, 0.0]
        r = float(10 ** self.rng.uniform(-1, 3))
        return [r, float(self.rng.uniform(-300, 300))]


def _hottest(found: CaseResult) -> float:
    return found.hottest_share * found.choke_power


def _covered(built: Structure, choke: Choke) -> bool:
    """Whether a choke lies on ports, and each core of a row by itself, whose heat is told."""
    core = choke.ferrite_core
    rows = [(choke.position, choke.acts_over)]
    if core is not None:
        places = (choke.position + k * core.length for k in range(choke.count))
        rows += [(place, core.length) for place in places]
    try:
        for place, length in rows:
            choke_weights(built, place, length)
    except ValueError:
        return False
    return True


def _cut(one: Solved) -> Solved:
    """The same at the frequencies that the page tells of its band."""
    band, told = one.band, told_at(one)
    assert band is not None
    return replace(
        one,
        band=replace(
            band,
            frequency=band.frequency[told],
            y_port=band.y_port[told],
            share=band.share[told],
            centre=int(np.flatnonzero(told == band.centre)[0]),
        ),
    )


def _spans(head: dict[str, Any], geometry: str) -> Iterator[tuple[float, float]]:
    for port in head["engine"]["geometries"][geometry]["ports"]:
        if port["span"] is not None:
            yield port["span"]


def python_side(results: Path) -> PythonSide:
    """Python's side of finished results: from their store, not from what the page carries."""
    head, _ = unpack((results / "live.gz").read_bytes())
    file = next(f for at in STUDIES if (f := at / f"{head['name']}.yaml").exists())
    stores = [results.parent / name for name in (".solved", "cache")]
    store = next(folder for folder in stores if folder.exists())
    study = load_study(file)
    wanted = requests(study)
    own = with_bands(Solves(read_centres(wanted, store), {}, {}), wanted, store)
    # The page's own ports: which they are follows from an answer, which is not made anew here.
    named = {
        name: [(low + SLACK, high - SLACK) for low, high in _spans(head, name)]
        for name in head["engine"]["cables"].values()
    }
    solved = live_solves(study, Source(file, wanted, own.solved, store / DRAWINGS, 1), named)
    kinds = {k.id: k for k in kinds_of(study, read_yaml(file).data.get("chokes") or [])}
    return PythonSide(
        study,
        {name: _cut(one) for name, one in solved.items()},
        kinds,
        head["engine"]["cables"],
        head["elevation"],
        np.random.default_rng(145),
    )
