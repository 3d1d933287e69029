"""What the app asks for and what it is answered: thin routes over one session."""
