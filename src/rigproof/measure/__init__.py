"""Arrays in, numbers out: loudness and peaks of what was rendered."""
