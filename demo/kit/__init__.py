"""Synthesises the drum kit that ships with fourlimb.

`python -m demo.kit.make`. Needs scipy; nothing at run time does.
"""
