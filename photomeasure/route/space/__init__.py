"""A route in space: cards and bands in several photos, one joint solve, a curve through the bands.

Frames: `world` is that of the first object placed; `object` of a card: its middle, x right, y up,
z out of the paper; `object` of a band: the middle of the band on the hose's axis, z along the
arrow, x out through the middle of the strip.
"""
