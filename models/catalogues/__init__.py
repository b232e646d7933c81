"""Pipe, coax, ferrite, soil, fittings and working limits: CSV files in, frozen SI records out.

Every row has a source and a confidence; a file that breaks its rules raises DamagedCatalogue.
Names as people write them are resolved here. What a part does at a frequency belongs to the
pipeline.
"""
