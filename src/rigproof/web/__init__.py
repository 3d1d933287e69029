"""The local server behind the app: one open project folder, served on the loopback address and nowhere else."""
