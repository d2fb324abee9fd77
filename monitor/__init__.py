"""The process: everything that touches the world (folders, files, store, channels, board, commands)."""
