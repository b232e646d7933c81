"""The paragraph on methods: what was computed, how, and with which numbers of these studies.

Summaries in, Markdown and LaTeX out. Every number is taken from a summary; every source is an entry
of ``references.bib``, which holds those that the project's own docstrings name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from importlib.resources import files
from typing import Any

from pipeline.article.markup import latex, markdown
from pipeline.text.formatting import in_words, listed, megahertz, plain, sentence_case

Summary = Mapping[str, Any]
Text = Callable[[str], str]
# A citation inside of a sentence: the key of its entry in brackets.
_CITED = re.compile(r" \[@([a-z0-9]+)\]")
NOT_COVERED = (
    "No interval covers the house and the metal in it, wet wood, wire in the soil or the exact way "
    "of a cable that was not measured."
)
NOT_CERTIFIED = (
    "Distances to keep and cautions are estimates; grounding, bonding, work at height and exposure "
    "follow local rules."
)


def references() -> str:
    """The entries in BibTeX."""
    return (files("pipeline.article") / "references.bib").read_text(encoding="utf-8")


def sentences(summaries: Sequence[Summary]) -> list[str]:
    """Sentences on the methods in plain text, citations as ``[@key]``."""
    first = summaries[0]
    return [
        _subject(summaries),
        *_fields(summaries, first["versions"]),
        *_algebra(summaries),
        *_evidence(summaries),
        *_draws(summaries),
        NOT_COVERED,
        NOT_CERTIFIED,
    ]


def methods_markdown(summaries: Sequence[Summary]) -> str:
    """The paragraph in Markdown, citations as Pandoc's citeproc reads them."""
    body = " ".join(_rendered(s, markdown, _pandoc) for s in sentences(summaries))
    return f"# Methods\n\n{body}\n"


def methods_latex(summaries: Sequence[Summary]) -> str:
    """The paragraph in LaTeX, citations of ``references.bib``."""
    body = "\n".join(_rendered(s, latex, _cite) for s in sentences(summaries))
    return f"% Needs \\bibliography{{references}}.\n\\section*{{Methods}}\n{body}\n"


def cited_keys(sentence: str) -> list[str]:
    """Keys of the entries that a sentence cites."""
    return _CITED.findall(sentence)


def _rendered(sentence: str, escape: Text, cite: Text) -> str:
    """A sentence with its text escaped and its citations in another form."""
    # Every second part is the key of a citation.
    parts = _CITED.split(sentence)
    return "".join(cite(p) if k % 2 else _around(p, escape) for k, p in enumerate(parts))


def _around(text: str, escape: Text) -> str:
    """A part of a sentence escaped, the blanks at its ends kept."""
    body = text.strip()
    return text.replace(body, escape(body)) if body else text


def _pandoc(key: str) -> str:
    return f" [@{key}]"


def _cite(key: str) -> str:
    return f"~\\cite{{{key}}}"


def _subject(summaries: Sequence[Summary]) -> str:
    """What was studied."""
    said = [_named(s["study"]) for s in summaries]
    what = "installation" if len(said) == 1 else "installations"
    return (
        f"{sentence_case(in_words(len(said)))} {what} of a vertical antenna with its coaxial feed "
        f"line {'was' if len(said) == 1 else 'were'} computed: {'; '.join(said)}."
    )


def _named(study: Mapping[str, Any]) -> str:
    """A study by its title and antenna; a title cites nothing, whatever it says."""
    antenna = study["antenna"]
    title = plain(study["title"]).replace("[@", "[ @")
    return (
        f"{title} ({antenna['type']} of {antenna['pipe']} pipe at "
        f"{megahertz(study['frequency_hz'])})"
    )


def _fields(summaries: Sequence[Summary], versions: Mapping[str, str]) -> list[str]:
    """How fields were solved, and on how much."""
    drawn = [g for s in summaries for g in s["geometries"]]
    segments = [g["n_segments"] for g in drawn]
    soils = {
        f"relative permittivity {s['study']['site']['ground']['eps_r']:.4g} and conductivity "
        f"{1e3 * s['study']['site']['ground']['sigma']:.3g} mS/m"
        for s in summaries
        if s["study"]["site"]["ground"] is not None
    }
    said = [
        "Antenna, outside of the cable and metal around them were one structure of thin wires, "
        "solved by the method of moments with NEC-2 [@burke1981theory] through PyNEC "
        f"{versions['PyNEC']}: {len(drawn)} geometries of {_span(segments)} segments. The jacket "
        "of the cable is a series inductance per length [@richmond1976insulated].",
    ]
    if soils:
        said.append(
            f"The soil has {listed(sorted(soils))}; it enters the currents by Sommerfeld's "
            "integrals and the far field by image and reflection coefficients "
            "[@jordan1968waves]."
        )
    return said


def _algebra(summaries: Sequence[Summary]) -> list[str]:
    """How chokes and terminations come in."""
    ports = [g["n_ports"] for s in summaries for g in s["geometries"]]
    cases = sum(len(s["cases"]) for s in summaries)
    return [
        f"Each geometry was solved once with a port at each of {_span(ports)} places; chokes, "
        "bonds and radio ends that are impedances were joined to these ports by the algebra of a "
        f"loaded N-port [@harrington1978reactively], without another solve, for {cases} cases. A "
        "coil or sleeve that is drawn is wire of its own.",
        "A ferrite core has the impedance that is printed or measured of it, else that of a toroid "
        "of its material [@snelling1969ferrites]; the inside of the cable is a lossy line "
        "[@pozar2012microwave].",
    ]


def _evidence(summaries: Sequence[Summary]) -> list[str]:
    """What each solve says of itself, and intervals."""
    drawn = [g for s in summaries for g in s["geometries"]]
    limits = summaries[0]["limits"]
    gains = [abs(g["average_gain"] - 1) for g in drawn]
    moved = [c["evidence"]["convergence"] for s in summaries for c in s["cases"]]
    grades = [c["evidence"]["grade"] for s in summaries for c in s["cases"]]
    counted = [
        f"{grades.count(grade)} {grade}"
        for grade in ("sound", "usable", "unsound")
        if grade in grades
    ]
    return [
        "Each geometry was checked by the average gain of its lossless twin (at most "
        f"{100 * max(gains):.2g} % from 1; sound up to "
        f"{100 * limits['average_gain']['sound']:g} %), by the symmetry of its port matrix, and by "
        f"a run with segments a quarter shorter (cases moved by at most {100 * max(moved):.2g} %); "
        f"of the cases {listed(counted)}.",
        "Intervals of 95 % for the installation as described combine these checks with what the "
        "wires were found to differ by from solutions on the surface of tubes [@jcgm2008gum].",
    ]


def _draws(summaries: Sequence[Summary]) -> list[str]:
    """The draws, what enough means, and where sensitivities are from."""
    answers = [s["answer"] for s in summaries]
    said = [
        f"{a['geometries']} geometries with {a['draws']} draws each over {len(a['unknowns'])} "
        f"unknowns"
        for a in answers
    ]
    thresholds = summaries[0]["conventions"]["thresholds"]
    tried = [f"{a['tried']}" for a in answers]
    return [
        "What a study leaves open was drawn from stated ranges by a scrambled Sobol' sequence "
        f"[@owen1998scrambling]: {'; '.join(dict.fromkeys(said))}. {_as_one(tried)} sets of chokes "
        "were compared on the same draws.",
        "A choke is called enough where the changes that it leaves against an ideal one "
        f"({thresholds['pattern_rms_db']:g} dB rms of pattern, "
        f"{thresholds['mean_gain_db']:g} dB of mean gain, {thresholds['swr_step']:g} in SWR) and "
        f"the current at the radio ({100 * thresholds['station_ratio']:g} % of the feed's) stay "
        f"below these thresholds in at least {100 * answers[0]['sure']:g} % of the draws; the "
        "answer is no choke where going without is enough, else the cheapest such set. Standard "
        "errors of chances are a bootstrap over geometries "
        "[@efron1993bootstrap]; shares of the spread are first-order, from given data "
        "[@plischke2010easi].",
    ]


def _as_one(counts: Sequence[str]) -> str:
    """Counts of several studies in one phrase."""
    return listed(list(dict.fromkeys(counts)))


def _span(values: Sequence[int]) -> str:
    low, high = min(values), max(values)
    return f"{low}" if low == high else f"{low} to {high}"
