"""The process: everything that touches the world (folders, files, store, channels, board, commands)."""

from monitor.clock import use_newest_zones

use_newest_zones()  # before any zone is read, in the workers too
