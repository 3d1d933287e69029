"""What the net says before a sample is played: volts, level, pulses, delay, reach. No compiler, no files."""
