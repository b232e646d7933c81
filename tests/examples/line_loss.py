"""Worked example of a figure: loss of the cable over the band."""

from pipeline.figures.data import Cases, Table, end_labels
from pipeline.figures.page import LEFT, RIGHT, Page, band_axis, label_ends, open_page
from pipeline.figures.registry import REPORT, figure


@figure(REPORT, 115, table="band", section="band")
def line_loss(cases: Cases, table: Table) -> Page:
    """Loss of the cable between radio and antenna over the band, in every case. [dB]"""
    most = table.number("line_loss_db").max()
    page = open_page(cases.texts(f"The cable loses up to {most:.2f} dB", *cases.notes(table)), 3.0)
    ax = page.panel(LEFT, 0.5, page.width - LEFT - RIGHT, 2.3)
    loss = [(case, rows.number("line_loss_db")) for case, rows in cases.drawn(table)]
    for case, y in loss:
        ax.plot(table.select(case=case.id).number("frequency_hz") / 1e6, y, **case.line)
    band_axis(ax, cases.frequency)
    ax.set_xlabel("frequency [MHz]")
    ax.set_ylabel("loss [dB]")
    label_ends(ax, end_labels(loss))
    return page
