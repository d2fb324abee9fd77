"""The commands: they read options and print. Decisions are made elsewhere."""
