"""Solve a case on its tubes' walls again: `python -m tests.validation.surface.rebuild A1`.

Needs the optional extra `surface`. Writes `<case>_Y.csv`, `<case>_gain.csv` and, where the case
has a cable, `<case>_current.csv` beside this file; with `--gain` only the second, on the coarsest
mesh at three frequencies. With `--check` a case is solved on the coarsest mesh of its tables, and
admittances and gains are compared with them; with `--library` the matrix is compared with the
boundary-element library's own. The exit code is 1 where they differ.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.validation.surface import radiation, turned
from tests.validation.surface.mesh import Layer, Mesh
from tests.validation.surface.sweep import mesh
from tests.validation.surface.tubes import Case, Port, read_case

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
FOLDER = Path(__file__).parent
# Rounding of the stored five digits, and what another version of a quadrature rule may move.
AGREES = 2e-4
# The same of a gain [dB], stored to 0.001 dB; 2e-4 of a current is 0.0017 dB.
GAIN_AGREES = 0.002
# The same rule summed in another order: rounding only.
SAME_MATRIX = 1e-9


@dataclass(frozen=True)
class Solution:
    """Port admittances (n_f, n_port, n_port) [S], currents (n_f, n_layer, n_port) [A/V].

    Fed at port 1, the others shorted: power radiated by power fed, and gains towards the horizon
    along +x, +y and -x [dBi], shape (n_f, 4).
    """

    mesh: str
    n_unknown: int
    frequencies: Real
    admittances: Complex
    layers: list[Layer]
    currents: Complex
    far: Real = field(default_factory=lambda: np.zeros((0, 4)))


def strip(made: Mesh, case: Case, port: Port) -> list[Layer]:
    """Layers of the wall that make up a port's strip."""
    names = [t.name for t in case.tubes] + [t.name for t in case.turned]
    found = [
        x for x in made.layers
        if names[x.tag[0]] == port.tube and x.plain
        and np.linalg.norm(x.middle - port.at) < port.width / 2
    ]  # fmt: skip
    length = sum(x.length for x in found)
    if abs(length - port.width) > 1e-9:
        raise ValueError(f"{case.name}: port {port.name}: strip is {length} m, not {port.width} m")
    return found


def cable(made: Mesh, case: Case) -> list[Layer]:
    """Layers of plain wall along the tube whose current is wanted."""
    names = [t.name for t in case.tubes] + [t.name for t in case.turned]
    return [x for x in made.layers if names[x.tag[0]] == case.current_along and x.plain]


def turned_solution(case: Case, name: str, frequencies: Real) -> Solution:
    """Solve a body of revolution on its curve; `t14` has elements 1.4 times as fine as `t10`."""
    (body,) = case.turned
    curve = turned.cut(body, case, int(name[1:]) / 10)
    still = turned.static(curve)
    ports = np.array([turned.strip(curve, body, p, case) for p in case.ports])
    layers = turned.outside(curve, body) if case.current_along else []
    admittances, currents, far = [], [], []
    for f in frequencies:
        along = turned.solve(curve, still, f, ports)
        admittances.append(ports @ along[1:-1])
        upward = np.sign(curve.step[:, 1])[:, None] * (along[1:] + along[:-1]) / 2
        currents.append(upward[[x.tag[2] for x in layers]])
        where = turned.current_moments(curve, along[:, 0])
        fed = 0.5 * admittances[-1][0, 0].real
        far.append([radiation.radiated(where, f) / fed, *radiation.horizon(where, f, fed)])
        print(
            f"{case.name} {name} {len(along) - 2} {f / 1e6:.3f} MHz {1 / admittances[-1][0, 0]:.3f}"
        )
    found = (np.array(x) for x in (currents, far))
    return Solution(name, len(ports[0]), frequencies, np.array(admittances), layers, *found)


def solution(case: Case, name: str, frequencies: Real) -> Solution:
    """Solve a case on one mesh, one volt at each port in turn and the others shorted."""
    if name.startswith("t"):
        return turned_solution(case, name, frequencies)
    from tests.validation.surface import integral_equation as equation

    made = mesh(case, name)
    body = equation.surface(made.vertices, made.triangles)

    def row(layers: list[Layer]) -> Real:
        chosen = np.flatnonzero((made.tags[:, None] == [x.tag for x in layers]).all(axis=2).any(1))
        length = sum(x.length for x in layers)
        return equation.mean_current(body, chosen, layers[0].direction, length)

    ports = np.array([row(strip(made, case, p)) for p in case.ports])
    layers = cable(made, case)
    slabs = np.array([row([x]) for x in layers]).reshape(len(layers), body.n_unknown)
    admittances, currents, far = [], [], []
    for f in frequencies:
        started = time.perf_counter()
        unknowns = equation.solve(equation.impedances(body, f), ports)
        admittances.append(ports @ unknowns)
        currents.append(slabs @ unknowns)
        where = equation.current_moments(body, unknowns[:, 0])
        fed = 0.5 * admittances[-1][0, 0].real
        far.append([radiation.radiated(where, f) / fed, *radiation.horizon(where, f, fed)])
        took = time.perf_counter() - started
        first = 1 / admittances[-1][0, 0]
        print(f"{case.name} {name} {body.n_unknown} {f / 1e6:.3f} MHz {first:.3f} ohm {took:.0f} s")
    found = (np.array(x) for x in (currents, far))
    return Solution(name, body.n_unknown, frequencies, np.array(admittances), layers, *found)


def admittance_rows(solved: Solution) -> list[dict[str, str]]:
    """Rows of `<case>_Y.csv`: five digits, the upper triangle."""
    rows = []
    for f, y in zip(solved.frequencies, solved.admittances, strict=True):
        row = {"mesh": solved.mesh, "n_unknown": str(solved.n_unknown), "f_MHz": f"{f / 1e6:.3f}"}
        for i in range(len(y)):
            for j in range(i, len(y)):
                row[f"Y{i + 1}{j + 1}_re_S"] = f"{y[i, j].real:.5g}"
                row[f"Y{i + 1}{j + 1}_im_S"] = f"{y[i, j].imag:.5g}"
        rows.append(row)
    return rows


def current_rows(case: Case, solved: Solution) -> list[dict[str, str]]:
    """Rows of `<case>_current.csv`: place, current per volt of each port, middle frequency."""
    k = len(solved.frequencies) // 2
    # Of a body of revolution downward from z = 0, which is its mouth.
    down = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, min(x.middle[2] for x in solved.layers) - 1]])
    start = next((t.axis for t in case.tubes if t.name == case.current_along), down)
    rows = []
    for layer, current in zip(solved.layers, solved.currents[k], strict=True):
        row = {"mesh": solved.mesh, "f_MHz": f"{solved.frequencies[k] / 1e6:.3f}"}
        row["s_m"] = f"{along(start, layer.middle):.5f}"
        row |= {"x_m": f"{layer.middle[0]:.5f}", "z_m": f"{layer.middle[2]:.5f}"}
        for i, value in enumerate(current):
            row[f"I{i + 1}_re_A_per_V"] = f"{value.real:.5g}"
            row[f"I{i + 1}_im_A_per_V"] = f"{value.imag:.5g}"
        rows.append(row)
    return rows


def gain_rows(solved: Solution) -> list[dict[str, str]]:
    """Rows of `<case>_gain.csv`: radiated by fed, gains to 0.001 dB, all for a shorted port 2."""
    rows = []
    for f, (power, *levels) in zip(solved.frequencies, solved.far, strict=True):
        row = {"mesh": solved.mesh, "n_unknown": str(solved.n_unknown), "f_MHz": f"{f / 1e6:.3f}"}
        row["Prad_over_Pin"] = f"{power:.7f}"
        for azimuth, gain in zip((0, 90, 180), levels, strict=True):
            row[f"gain_horizon_phi{azimuth}_dBi"] = f"{gain:.3f}"
        rows.append(row)
    return rows


def along(axis: Real, point: Real) -> float:
    """Distance along a bent axis from its start to a point on it [m]."""
    before = 0.0
    for a, b in itertools.pairwise(axis):
        length = float(np.linalg.norm(b - a))
        part = float((point - a) @ (b - a)) / length
        if np.linalg.norm(a + part / length * (b - a) - point) < 1e-9 and 0 <= part <= length:
            return before + part
        before += length
    raise ValueError(f"{point.tolist()} m is not on the axis {axis.tolist()}")


def write(path: Path, rows: list[dict[str, str]]) -> None:
    """Write a table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(rows)


def limit(coarse: Solution, fine: Solution, corners: tuple[int, int]) -> Solution:
    """What two meshes tend to: errors fall with the square of the facets round a pipe."""
    a, b = corners
    share = b**2 / (b**2 - a**2)
    y = coarse.admittances + share * (fine.admittances - coarse.admittances)
    return Solution("limit", 0, fine.frequencies, y, [], np.zeros((0, 0, 0), complex))


def rebuild(case: Case, names: list[str]) -> None:
    """Solve a case on the named meshes and write its tables."""
    solved = []
    for name in names:
        solved.append(solution(case, name, case.frequencies))
        rows = [row for x in solved for row in admittance_rows(x)]
        if len(solved) > 1:
            facets = (int(names[-2][1:]), int(names[-1][1:]))
            rows += admittance_rows(limit(solved[-2], solved[-1], facets))
        write(FOLDER / f"{case.name}_Y.csv", rows)
    write(FOLDER / f"{case.name}_gain.csv", [row for x in solved for row in gain_rows(x)])
    if case.current_along is not None:
        write(FOLDER / f"{case.name}_current.csv", current_rows(case, solved[-1]))


def rebuild_gains(case: Case, name: str) -> None:
    """Solve a case at its first, middle and last frequency and write its gains."""
    n = len(case.frequencies)
    solved = solution(case, name, case.frequencies[:: max(1, n // 2)])
    write(FOLDER / f"{case.name}_gain.csv", gain_rows(solved))


def check(case: Case) -> int:
    """Compare a case solved now with its tables, on their coarsest mesh; 0 where they agree."""
    path = FOLDER / f"{case.name}_Y.csv"
    stored = read(path)
    name = stored[0]["mesh"]
    then = [r for r in stored if r["mesh"] == name]
    # The middle frequency: what differs differs at all of them.
    then = then[len(then) // 2 :][:1]
    solved = solution(case, name, np.array([float(r["f_MHz"]) for r in then]) * 1e6)
    now = admittance_rows(solved)
    worst = max(
        abs(value(a, key) / value(b, key) - 1)
        for a, b in zip(now, then, strict=True)
        for key in (k.removesuffix("_re_S") for k in a if k.endswith("_re_S"))
    )
    agrees = worst <= AGREES and now[0]["n_unknown"] == then[0]["n_unknown"]
    print(
        f"{path.name}: {now[0]['n_unknown']} unknowns now, {then[0]['n_unknown']} in the table;"
        f" largest relative difference {worst:.1e}, allowed {AGREES:.0e}:"
        f" {'agrees' if agrees else 'does NOT agree'}"
    )
    return int(not agrees) | check_gains(case, solved)


def check_gains(case: Case, solved: Solution) -> int:
    """Compare gains of a solution with those stored of its mesh; 0 where they agree or none are."""
    path = FOLDER / f"{case.name}_gain.csv"
    if not path.exists():
        return 0
    stored = {(r["mesh"], r["f_MHz"]): r for r in read(path)}
    now = {(r["mesh"], r["f_MHz"]): r for r in gain_rows(solved)}
    both = sorted(now.keys() & stored.keys())
    differences = [
        abs(float(now[k][key]) - float(stored[k][key]))
        for k in both for key in stored[k] if key.startswith("gain_")
    ]  # fmt: skip
    # No frequency in common is no agreement.
    worst = max(differences, default=np.inf)
    agrees = worst <= GAIN_AGREES
    print(
        f"{path.name}: {len(both)} frequencies; largest difference of a gain {worst:.3f} dB,"
        f" allowed {GAIN_AGREES} dB: {'agrees' if agrees else 'does NOT agree'}"
    )
    return int(not agrees)


def read(path: Path) -> list[dict[str, str]]:
    """Rows of a table."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def value(row: dict[str, str], key: str) -> complex:
    """A complex entry of a table's row."""
    return complex(float(row[f"{key}_re_S"]), float(row[f"{key}_im_S"]))


def check_library(case: Case) -> int:
    """Compare our matrix on the coarsest mesh with the library's own; 0 where they agree."""
    from tests.validation.surface import integral_equation as equation

    made = mesh(case, "n8")
    body = equation.surface(made.vertices, made.triangles)
    worst = equation.library_error(body, float(case.frequencies[0]), 4)
    print(f"{case.name}: matrix differs from the library's by {worst:.1e}, allowed {SAME_MATRIX}")
    return int(worst > SAME_MATRIX)


def usual_meshes(case: Case) -> str:
    """Meshes of a case's tables: bodies of revolution with a cable are solved on their curve."""
    return "t14,t20" if case.turned and case.current_along else "n8,n12"


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("case", nargs="+", help="name of a file in cases/, without .json")
    parser.add_argument(
        "--mesh", help="meshes to solve, coarse to fine; n8,n12, on a curve t14,t20"
    )
    parser.add_argument("--check", action="store_true", help="compare with the stored table")
    parser.add_argument("--library", action="store_true", help="compare with the library's matrix")
    parser.add_argument("--gain", action="store_true", help="write only the gains, coarsest mesh")
    options = parser.parse_args()
    bad = 0
    for case in map(read_case, options.case):
        if options.check:
            bad |= check(case)
        if options.library:
            bad |= check_library(case)
        meshes = (options.mesh or usual_meshes(case)).split(",")
        if options.gain:
            rebuild_gains(case, meshes[0])
        elif not options.check and not options.library:
            rebuild(case, meshes)
    return bad


if __name__ == "__main__":
    sys.exit(main())
