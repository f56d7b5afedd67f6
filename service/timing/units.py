"""Exact conversions for constants that the trade states in inches and pounds."""

INCH_M = 0.0254
POUND_FORCE_N = 4.4482216152605
