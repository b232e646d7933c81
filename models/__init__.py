"""Geometry generators and catalogues of pipe-built verticals; knows no solver."""
