"""The choke that an antenna is tuned with: the one that its own report recommends.

A study in, the case of its verdict out. Everything is solved anew at the design frequency, so that
the answer is the same whether a report was made before or not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.design.tuning import Step, Tuned, tune
from pipeline.judgement.advised import advised
from pipeline.judgement.judgement import judge_study
from pipeline.mesh.evidence import twin_evidence
from pipeline.solver.cases import CABLE, IDEAL, Case, cases, geometry_plans
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import SolveRequest, requests
from pipeline.study.records import RECOMMENDED, Study


@dataclass(frozen=True)
class Matched:
    """A tuned antenna; ``recommended`` is what the report takes at the tuned lengths, by id.

    Empty where the study itself names what is on the cable.
    """

    tuned: Tuned
    recommended: str = ""

    @property
    def settled(self) -> bool:
        """Whether the tuned antenna still wants what it was tuned with."""
        return self.recommended in ("", self.tuned.case.id)


def recommended_case(study: Study) -> str:
    """Id of the case that a study's report recommends, the bare cable included."""
    wanted = requests(study)
    solved = {name: _at_design(r, r.structure) for name, r in wanted.items()}
    study = without_hopeless_coils(study, solved)
    wanted = {plan.name: wanted[plan.name] for plan in geometry_plans(study)}
    solved = {name: solved[name] for name in wanted}
    refined = {name: _at_design(r, r.refined) for name, r in wanted.items()}
    geometries = {
        name: twin_evidence(r, solved[name].basis.y_port[0]) for name, r in wanted.items()
    }
    judgement = judge_study(study, solved, refined, geometries)
    return advised(judgement).advice.recommended_case


def _at_design(request: SolveRequest, built: Structure) -> Solved:
    """A drawing of a request at the design frequency, on the azimuths that all of them share."""
    f = request.frequency[request.centre : request.centre + 1]
    return Solved(built, solve_basis(built, f, 0, request.soil, request.azimuths))


def without_hopeless_coils(study: Study, solved: Mapping[str, Solved]) -> Study:
    """The study without coils drawn as wire that are not enough as they are described.

    Such a coil is never recommended, whatever its checks say and however it may come out; those
    drawings are most of what a study costs.
    """
    theta = solved[CABLE].basis.directions.theta
    by_id = {case.id: case for case in cases(study)}
    ideal = evaluate(solved[CABLE], study, by_id[IDEAL])
    elevation = horizon_elevation_deg(ideal.gain, theta)
    best = ideal.reference(elevation)

    def is_enough(case: Case) -> bool:
        result = evaluate(solved[case.geometry], study, case)
        return float(result.merit(best, elevation).score()[0]) <= 1

    kept = tuple(c for c in study.chokes if not c.is_drawn or is_enough(by_id[c.id]))
    return replace(study, chokes=kept)


def match(
    study: Study,
    say: Callable[[Step], None] = lambda step: None,
    tell: Callable[[str], None] = lambda text: None,
) -> Matched:
    """Tune an antenna with what its report recommends, or with what the study names.

    Where the report of the tuned antenna recommends something else it is tuned once more, with
    that. ``say`` is told of every step, ``tell`` what is being done.
    """
    if study.tune.choke != RECOMMENDED:
        return Matched(tune(study, say))
    label = {c.id: c.label for c in cases(study)}
    tell("all cases at the design frequency, for what the report recommends")
    wanted = recommended_case(study)
    for _ in range(2):
        tell(f"recommended: {label[wanted]}")
        tuned = tune(study, say, wanted)
        tell("the same for the tuned lengths")
        found = Matched(tuned, recommended_case(tuned.after))
        if found.settled:
            break
        wanted = found.recommended
    return found
