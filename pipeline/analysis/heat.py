"""Power in a choke: heat and temperature of its cores, voltage across it.

Cases with their results in, watts, kelvins and volts out, with a warning in words where a margin
is small. Everything is in proportion to the power; that a core's permeability changes as it warms
is not in it.

The warmest core is a horizontal cylinder in still air (Churchill and Chu) that also radiates, once
free all round and once half covered; voltages are the sum of impedance times current over the ports
a choke covers. What is assumed about air, surfaces and insulation stands in
``models/catalogues/in_use.csv``, Curie points in ``ferrite_curie.csv``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore
from models.catalogues.working_limits import curie_point, still_air, working_value
from pipeline.analysis.case_results import CaseResult
from pipeline.chokes.kind import Choke
from pipeline.circuit.convection import Body, temperature_rise
from pipeline.solver.terminations import choke_series
from pipeline.study.records import Study

_JACKETS = {"PE": "jacket-pe", "PVC": "jacket-pvc", "FEP": "jacket-fep"}
ZERO_CELSIUS = 273.15

Range = tuple[float, float]


@dataclass(frozen=True)
class Core:
    """The core that takes most heat, at the study's power and duty.

    ``carrier`` and ``mean`` [W] with a full carrier and over time; ``rise`` [K] and ``resistance``
    [K/W] free all round and with part of it covered; ``curie`` [K], ``margin`` [K] from the
    hottest it gets to that.
    """

    carrier: float
    mean: float
    rise: Range
    resistance: Range
    curie: float
    margin: float

    @property
    def hottest(self) -> float:
        """Temperature in hot air, covered in part. [K]"""
        return working_value("ambient") + self.rise[1]


@dataclass(frozen=True)
class Stress:
    """Heat and voltage of one case at the study's power.

    ``power`` [W] is that of the whole choke with a full carrier, ``mean_power`` [W] over time;
    ``core`` is there for ferrite only. ``voltage`` [V] is the peak across the choke, ``withstand``
    [V] the peak that its surface or gap stands; both ``None`` where they are not known.
    """

    power: float
    mean_power: float
    core: Core | None
    voltage: float | None
    withstand: float | None
    warnings: tuple[str, ...]

    @property
    def voltage_rms(self) -> float | None:
        """Root-mean-square voltage across the choke. [V]"""
        return None if self.voltage is None else self.voltage / float(np.sqrt(2))


def core_bodies(core: FerriteCore) -> tuple[Body, Body]:
    """A core as a body in air: free all round, and with part of its side covered.

    The first counts the side and both ring-shaped ends, as a core alone has them; the second half
    of the side and no ends, as one in a row that is taped to a mast.
    """
    emissivity = working_value("emissivity")
    side = np.pi * core.outer_diameter * core.length
    ends = 0.5 * np.pi * (core.outer_diameter**2 - core.inner_diameter**2)
    open_side = (1 - working_value("covered-share")) * side
    return (
        Body(core.outer_diameter, float(side + ends), emissivity),
        Body(core.outer_diameter, float(open_side), emissivity),
    )


def core_heat(core: FerriteCore, carrier: float, duty: float) -> Core:
    """Temperature of the core that takes most heat.

    ``carrier`` [W] is the heat in it with a full carrier, ``duty`` the mean heat over that, 0 to 1.
    """
    ambient, air = working_value("ambient"), still_air()
    mean = duty * carrier
    bodies = core_bodies(core)
    free, covered = (temperature_rise(mean, body, ambient, air) for body in bodies)
    # Without heat there is no rise to divide by; a milliwatt stands for its limit.
    least = max(mean, 1e-3)
    resistance = tuple(temperature_rise(least, body, ambient, air) / least for body in bodies)
    curie = curie_point(core.material).temperature
    return Core(
        carrier=carrier,
        mean=mean,
        rise=(free, covered),
        resistance=(resistance[0], resistance[1]),
        curie=curie,
        margin=curie - ambient - covered,
    )


def choke_voltage(result: CaseResult, z_choke: NDArray[np.complex128]) -> float | None:
    """Peak voltage across a choke at the study's power; ``None`` without a lumped impedance. [V]

    It is the sum over the ports that the choke covers of its impedance there, ``z_choke`` (n_port,)
    [ohm], times the current.
    """
    current = result.current[result.solved.basis.centre]
    if not z_choke.any():
        return None
    return float(np.sqrt(result.antenna_power / result.power_in) * abs(z_choke @ current))


def _most_strained(result: CaseResult, choke: Choke) -> tuple[float | None, float | None]:
    """Voltage across the member of a choke that is nearest to what it stands, and that. [V]"""
    study, built, host = result.study, result.solved.structure, result.study.host
    if len(choke.members) == 1:
        z_own = result.z_choke[result.solved.basis.centre]
        voltage = choke_voltage(result, z_own)
        return voltage, None if voltage is None else choke.withstand(host)
    f = np.array([study.frequency])
    found = [
        (choke_voltage(result, choke_series(built, study, one, f)[0]), one.withstand(host))
        for one in choke.members.values()
    ]
    return max(found, key=lambda each: (each[0] or 0.0) / (each[1] or np.inf))


def jacket_limit(material: str) -> float | None:
    """Highest temperature of a cable by its jacket; ``None`` if it is of no known kind. [K]

    Examples
    --------
    >>> jacket_limit("PVC (IIa)")
    348.15
    """
    found = next((row for kind, row in _JACKETS.items() if material.startswith(kind)), None)
    return None if found is None else working_value(found)


def stress(result: CaseResult) -> Stress | None:
    """Heat and voltage of one case; ``None`` where there is no lumped part to get warm."""
    study, choke = result.study, result.case.choke
    # What a coil that is drawn as wire loses is counted with the metal of the cable.
    if choke is None or not choke.is_real or (choke.is_drawn and not choke.own_port):
        return None
    cable = choke.cable_along(study.cable.type)
    cores = [
        core_heat(row.core, row.share * result.choke_power, study.duty)
        for row in result.warmest
        if row.core is not None
    ]
    # Of two classes of core the one that is nearer to its Curie point.
    core = min(cores, key=lambda found: found.margin, default=None)
    voltage, limit = _most_strained(result, choke)
    return Stress(
        power=result.choke_power,
        mean_power=study.duty * result.choke_power,
        core=core,
        voltage=voltage,
        withstand=limit,
        warnings=(*_heat_warnings(core, cable.jacket_material), *_arc_warnings(voltage, limit)),
    )


def _heat_warnings(core: Core | None, jacket: str) -> tuple[str, ...]:
    if core is None:
        return ()
    found = []
    hottest = f"{core.hottest - ZERO_CELSIUS:.0f} °C"
    if core.margin <= 0:
        found.append(
            f"reaches {hottest}, beyond the Curie point of {core.curie - ZERO_CELSIUS:.0f} °C: the "
            "core stops choking and may crack"
        )
    elif core.margin < working_value("curie-margin"):
        found.append(
            f"reaches {hottest}, only {core.margin:.0f} K below its Curie point: choking gets "
            "weaker while it is hot"
        )
    limit = jacket_limit(jacket)
    if limit is not None and core.hottest > limit:
        found.append(
            f"reaches {hottest}, more than the cable's {jacket} jacket stands "
            f"({limit - ZERO_CELSIUS:.0f} °C)"
        )
    return tuple(found)


def _arc_warnings(voltage: float | None, limit: float | None) -> tuple[str, ...]:
    if voltage is None or limit is None or voltage <= 0.5 * limit:
        return ()
    how = "more than" if voltage > limit else "more than half of"
    return (
        f"{voltage:.0f} V (peak) across it is {how} what its surface or gap is taken to stand when "
        f"wet and dirty ({limit:.0f} V)",
    )


def stress_words(found: Mapping[str, Stress], study: Study) -> tuple[str, ...]:
    """Heat and voltage of cases with a choke, by id, in sentences."""
    if not found:
        return ()
    hottest, core = max(
        ((name, s.core) for name, s in found.items() if s.core is not None),
        key=lambda pair: pair[1].rise[1],
        default=(None, None),
    )
    sentences = [
        f"At {study.power:g} W with a full carrier for {100 * study.duty:g} % of the time, in air "
        f"of {working_value('ambient') - ZERO_CELSIUS:.0f} °C."
    ]
    if core is not None:
        sentences.append(
            f"The warmest core is in {hottest}: {1e3 * core.mean:.3g} mW on average make it "
            f"{core.rise[0]:.2g} K warmer than the air, {core.rise[1]:.2g} K if half of it is "
            "covered."
        )
    volts = [s.voltage for s in found.values() if s.voltage is not None]
    if volts:
        sentences.append(f"The highest voltage across a choke is {max(volts):.3g} V (peak).")
    warned = [f"{name} {text}." for name, s in found.items() for text in s.warnings]
    return (*sentences, *(warned or ["No margin is small."]))
