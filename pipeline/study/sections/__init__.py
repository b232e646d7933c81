"""The sections of a study file, one module each: keys, units, ranges, defaults, JSON Schema.

Plain data in, records out. What concerns two sections belongs to ``checks``.
"""
