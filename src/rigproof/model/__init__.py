"""What the performer owns, how it is wired and set, how it is played: plain data, no files, no sound, no printing."""
