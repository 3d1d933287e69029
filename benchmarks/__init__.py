"""Speeds, each as a ratio of two things measured side by side in one run."""
