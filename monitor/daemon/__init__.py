"""The daemon: the only place that knows about threads, signals and when to look.

`run` puts it together, `loop` runs it, `eyes` looks at folders, `courier` sends, `state` tells `status` about it.
"""
