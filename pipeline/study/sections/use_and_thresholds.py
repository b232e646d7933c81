"""Use and judgement: exposure, tuning, thresholds, and the antenna as it was measured.

The sections ``exposure``, ``tune``, ``verdict`` and ``measured``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from models.quantities import Choice, Key, Listed, Quantity
from pipeline.chokes.measured_choke import measurement
from pipeline.study import fields as kinds
from pipeline.study.faults import nearest
from pipeline.study.fields import ALWAYS_ADDED, RECOMMENDED
from pipeline.study.section import file_beside, study_section
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath

if TYPE_CHECKING:
    from pipeline.study.sections_read import Parts

# Three points are the fewest through which a match can be seen to bend.
FEWEST_MEASURED = 3


@study_section("exposure")
@dataclass(frozen=True)
class Exposure:
    """How much the station transmits, and where people are; for the estimate of exposure."""

    # The defaults are the worst case.
    mode_duty: Annotated[
        float, Quantity("1", 0.01, 1.0, "mean power of the mode over that of a full carrier", "1")
    ] = 1.0
    transmit_share: Annotated[
        float, Quantity("1", 0.01, 1.0, "part of any six minutes spent transmitting", "0.5")
    ] = 1.0
    reach: Annotated[float, Quantity("m", 1.0, 10.0, "height up to which people walk", "2.5 m")] = (
        2.5
    )
    cable_distance: Annotated[
        float, Quantity("m", 0.05, 2.0, "from a person to the cable at the radio", "0.2 m")
    ] = 0.2


@study_section("tune", states_defaults=False)
@dataclass(frozen=True)
class Tuning:
    """How the antenna's lengths are found; used by the command that tunes it."""

    schema_title: ClassVar[str] = "TuneSection"
    choke: Annotated[
        str,
        kinds.text(
            "case it is tuned in: recommended (what the study takes), none, ideal or the id "
            "of a candidate",
            RECOMMENDED,
            60,
        ),
    ] = RECOMMENDED
    # At the feed and the design frequency.
    target_swr: Annotated[float, Quantity("1", 1.02, 3.0, "SWR that is good enough", "1.2")] = 1.2
    # Empty: everything that the antenna's own file offers.
    free: Annotated[
        tuple[str, ...], kinds.text("length that may change", "short_leg", 40), Listed(8)
    ] = ()
    solves: Annotated[int, Quantity("1", 5, 100, "most field solves it may take", "25")] = 25

    def check(self, parts: Parts) -> list[FieldError]:
        """Lengths to tune that the antenna does not have, and a case to tune it in that is none.

        Without a list of candidates the standard ones are added later; their names are not known
        yet.
        """
        generator = parts.generator
        if generator is None:
            return []
        lengths = [trim.parameter for trim in generator.trims]
        complaints = [
            FieldError(
                f"is nothing that is tuned on {generator.title}",
                nearest(name, lengths) or f"one of {', '.join(lengths)}",
                "tune-free",
                ("tune", "free", index),
            )
            for index, name in enumerate(self.free)
            if name not in lengths
        ]
        rule = "is no case of this study that has a cable"
        always = (RECOMMENDED, "none", "ideal")
        at: KeyPath = ("tune", "choke")
        return complaints + _unknown_case(parts, self.choke, always, at, rule, "tune-choke")


@study_section("verdict", states_defaults=False)
@dataclass(frozen=True)
class Thresholds:
    """From where on a change against an ideal choke counts as visible."""

    # Three times one is strong. Common practice, no source: half a decibel is about what a careful
    # field-strength comparison can tell, 0.2 of SWR what a meter shows, and a twentieth of the feed
    # current (-26 dB) is where radios start to misbehave.
    schema_title: ClassVar[str] = "VerdictSection"
    pattern_rms_db: Annotated[
        float,
        Quantity("dB", 0.05, 10.0, "rms change of the low-angle pattern", "0.5 dB"),
        Key("pattern_rms"),
    ] = 0.5
    mean_gain_db: Annotated[
        float,
        Quantity("dB", 0.05, 10.0, "change of the mean gain in the lowest lobe", "0.5 dB"),
        Key("mean_gain"),
    ] = 0.5
    swr_step: Annotated[
        float, Quantity("1", 0.01, 5.0, "change of SWR at the antenna", "0.2"), Key("swr")
    ] = 0.2
    station_ratio: Annotated[
        float,
        Quantity("1", 0.001, 1.0, "current at the radio over that at the feed", "0.05"),
        Key("radio_current"),
    ] = 0.05


@dataclass(frozen=True)
class Reflection:
    """A measured reflection, referred to 50 ohm, at rising frequencies [Hz], and its file."""

    file: str
    f: tuple[float, ...]
    gamma: tuple[complex, ...]

    @classmethod
    def of(cls, file: str, network: Any) -> Reflection:
        """That of the first port of a scikit-rf network."""
        return cls(file, tuple(network.f.tolist()), tuple(network.s[:, 0, 0].tolist()))


_REFLECTION = file_beside(measurement("reflection, one port", "antenna.s1p", 1), Reflection.of)


@study_section("measured", states_defaults=False)
@dataclass(frozen=True)
class MeasuredAntenna:
    """A measurement of the antenna, to be laid over what is computed."""

    antenna: Annotated[Reflection, _REFLECTION]
    at: Annotated[str, Choice(("feed", "radio"), "where the analyser was joined")]
    case: Annotated[
        str,
        kinds.text("case it stands beside: none, ideal, no-feedline or a candidate", "none", 60),
    ] = "none"
    power: Annotated[
        float | None,
        Quantity("W", 1e-9, 5e3, "what the analyser sent into the antenna, as a note", "1 mW"),
    ] = None

    def check(self, parts: Parts) -> list[FieldError]:
        """A sweep that does not reach into the band, and a case beside it that is none.

        Without a list of candidates the standard ones are added later; their names are not known
        yet.
        """
        band, complaints = parts.band, []
        if band is None:
            return []
        inside = sum(band.start <= f <= band.stop for f in self.antenna.f)
        if inside < FEWEST_MEASURED:
            rule = (
                f"has {inside} of its frequencies within the band "
                f"{show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}; "
                f"at least {FEWEST_MEASURED} are needed"
            )
            remedy = "sweep the band and a tenth of the frequency more on both sides"
            complaints.append(FieldError(rule, remedy, "measured-range", ("measured", "antenna")))
        at: KeyPath = ("measured", "case")
        rule = "is no case of this study"
        return complaints + _unknown_case(parts, self.case, ALWAYS_ADDED, at, rule, "measured-case")


def _unknown_case(
    parts: Parts, name: str, always: Sequence[str], at: KeyPath, rule: str, tag: str
) -> list[FieldError]:
    """Refusal of a name that no case has; one that has a fault of its own may have it."""
    if parts.chokes is None or parts.chokes.may_be(name):
        return []
    known = [*always, *(choke.id for _, choke in parts.chokes.sound)]
    if name in known:
        return []
    remedy = nearest(name, known) or f"one of {', '.join(known)}"
    return [FieldError(rule, remedy, tag, at)]


# What counts where a study names no thresholds of its own.
USUAL = Thresholds()
