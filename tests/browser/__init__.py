"""The app in a real browser: its own process, its own port, a real mouse and keyboard."""
