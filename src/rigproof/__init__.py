"""Prove your rig before you plug it in.

Plan, check, rehearse, rebuild and explain a live set on hardware modules: one graph of the patch, read as volts,
levels, pulses, delays and sound.
"""

__version__ = "0.1.0"
