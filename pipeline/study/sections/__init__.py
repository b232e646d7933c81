"""Records of the sections of a study file: keys, units, ranges, defaults, each in a marker.

Plain data in, records out; every module here is found by itself. What concerns two sections
belongs to ``checks``.
"""
