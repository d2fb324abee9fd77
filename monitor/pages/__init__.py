"""The pages that people open on their phones: read what the board shows, and answer."""
