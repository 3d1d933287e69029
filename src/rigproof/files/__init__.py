"""The one room that reads and writes project files; knows lines and keys. Loading never executes anything."""
