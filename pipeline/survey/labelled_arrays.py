"""A batch's numbers as labelled arrays (netCDF): group by case by quantile, group by cores.

Rows and what was found in them in, one small file out that any netCDF reader opens.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from pipeline.runtime.store import whole_file
from pipeline.survey.shares import QUANTILES, quantiles
from pipeline.survey.table_rows import ColumnMeaning, TableRows

# A share and the ends of its interval.
_STATISTICS = ("value", "low", "high")
_OUTCOMES = ("better", "no_matter", "worse", "enough", "enough_without")
_SHARE = {"units": "1"}
Groups = Sequence[Mapping[str, Any]]


def write_arrays(path: Path, table: TableRows, summary: Mapping[str, Any]) -> None:
    """Write the arrays of a table and of what was found in it."""
    with whole_file(path) as temporary:
        dataset(table, summary).to_netcdf(temporary, engine="scipy", format="NETCDF3_64BIT")


def dataset(table: TableRows, summary: Mapping[str, Any]) -> xr.Dataset:
    """The arrays with their dimensions, units and meanings; not a number where there is none."""
    groups = summary["groups"]
    names = [group["name"] for group in groups]
    found = xr.Dataset(
        coords={
            "group": names,
            "quantile": ("quantile", list(QUANTILES), {"units": "1"}),
            "statistic": list(_STATISTICS),
        },
        attrs={
            "title": summary["title"],
            "table_sha256": summary["table"]["sha256"],
            "comment": f"{summary['remarks']['sample']} {summary['remarks']['intervals']}",
        },
    )
    return found.assign(_distributions(table.trusted, names)).assign(_findings(groups))


def _distributions(rows: TableRows, names: Sequence[str]) -> dict[str, Any]:
    """Quantiles of the score of every case, and of each figure of merit without a choke."""
    figures = [c for c in rows.columns.values() if _is_number(rows, c)]
    cases = [str(case) for case in rows.frame["case"].unique()]
    bare = rows.bare
    without = [_by(bare, names, "kind", ["none"], figure.name)[:, 0] for figure in figures]
    return {
        "score": _array(
            ("group", "case", "quantile"),
            _by(rows, names, "case", cases, "score"),
            "largest change over its threshold",
            case=cases,
        ),
        "figure_without": _array(
            ("group", "figure", "quantile"),
            np.stack(without, axis=1),
            "figures of merit of the cable without a choke, in units_of_figure",
            figure=[figure.name for figure in figures],
            units_of_figure=("figure", [figure.unit or "1" for figure in figures]),
        ),
    }


def _is_number(rows: TableRows, column: ColumnMeaning) -> bool:
    return column.role == "figure" and rows.frame[column.name].dtype.kind in "if"


def _by(
    rows: TableRows, names: Sequence[str], column: str, wanted: Sequence[str], of: str
) -> NDArray[np.float64]:
    """Quantiles of a column by group and by what another one holds, (group, wanted, quantile)."""
    found = np.full((len(names), len(wanted), len(QUANTILES)), np.nan)
    parts = rows.frame.groupby(["group", column], observed=True, sort=False).indices
    values, weight = rows.number(of), rows.members.weight
    for (group, held), places in parts.items():
        known = places[np.isfinite(values[places])]
        if held in wanted and len(known):
            at = names.index(str(group)), wanted.index(str(held))
            found[at] = quantiles(values[known], weight[known])
    return found


def _findings(groups: Groups) -> dict[str, Any]:
    """Shares of every group: nothing needed, strong, so many cores enough, drawn chokes."""
    labels = _labels(groups, "cores")
    counts = sorted({n for group in groups for cores in group["cores"] for n in cores["counts"]})
    drawn = _labels(groups, "drawn")
    wanted = sorted({x["share"] for g in groups for c in g["cores"] for x in c["least"]})
    return {
        "nothing_needed": _array(
            ("group", "statistic"),
            _filled(groups, (3,), _bare("nothing")),
            "share of installations without a visible change",
        ),
        "strong_without": _array(
            ("group", "statistic"),
            _filled(groups, (3,), _bare("strong")),
            "share of installations with a strong change without a choke",
        ),
        "cores_enough": _array(
            ("group", "cores", "count", "statistic"),
            _filled(groups, (len(labels), len(counts), 3), _enough(labels, counts)),
            "share of installations in which so many cores are enough",
            cores=labels,
            count=counts,
        ),
        "fewest_cores": _array(
            ("group", "cores", "wanted", "statistic"),
            _filled(groups, (len(labels), len(wanted), 3), _least(labels, wanted)),
            "least number of cores that is enough in the wanted share; none: more than were tried",
            wanted=wanted,
        ),
        "drawn_against_none": _array(
            ("group", "drawn", "outcome", "statistic"),
            _filled(groups, (len(drawn), len(_OUTCOMES), 3), _drawn(drawn)),
            "what a drawn choke does beside no choke on the same installation, as shares of them",
            drawn=drawn,
            outcome=list(_OUTCOMES),
        ),
    }


def _array(
    dimensions: tuple[str, ...], values: NDArray[np.float64], meaning: str, **coords: Any
) -> xr.DataArray:
    """Values with a meaning; six digits are more than a sample bears, and halve the file."""
    attrs = {**_SHARE, "long_name": meaning}
    return xr.DataArray(values.astype(np.float32), dims=dimensions, coords=coords, attrs=attrs)


def _labels(groups: Groups, part: str) -> list[str]:
    return list(dict.fromkeys(each["label"] for group in groups for each in group[part]))


Fill = Callable[[NDArray[np.float64], Mapping[str, Any]], None]


def _filled(groups: Groups, shape: tuple[int, ...], fill: Fill) -> NDArray[np.float64]:
    """An array with a row for each group, each filled with what is known of it."""
    found = np.full((len(groups), *shape), np.nan)
    for row, group in zip(found, groups, strict=True):
        fill(row, group)
    return found


def _ends(share: Mapping[str, Any]) -> list[float]:
    return [share[name] for name in _STATISTICS]


def _bare(name: str) -> Fill:
    def fill(row: NDArray[np.float64], group: Mapping[str, Any]) -> None:
        if group["bare"]:
            row[:] = _ends(group["bare"][name])

    return fill


def _enough(labels: list[str], counts: list[int]) -> Fill:
    def fill(row: NDArray[np.float64], group: Mapping[str, Any]) -> None:
        for cores in group["cores"]:
            for count, share in zip(cores["counts"], cores["enough"], strict=True):
                row[labels.index(cores["label"]), counts.index(count)] = _ends(share)

    return fill


def _least(labels: list[str], wanted: list[float]) -> Fill:
    def fill(row: NDArray[np.float64], group: Mapping[str, Any]) -> None:
        for cores in group["cores"]:
            for each in cores["least"]:
                known = [each[name] for name in ("count", "low", "high")]
                at = labels.index(cores["label"]), wanted.index(each["share"])
                row[at] = [np.nan if n is None else n for n in known]

    return fill


def _drawn(labels: list[str]) -> Fill:
    def fill(row: NDArray[np.float64], group: Mapping[str, Any]) -> None:
        for each in group["drawn"]:
            row[labels.index(each["label"])] = [_ends(each[name]) for name in _OUTCOMES]

    return fill
