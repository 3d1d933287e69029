"""Plans: what could be done with a rig, worked out before a hand does it; each says what it costs and why."""
