"""The daemon: the only place that knows about threads, signals and when to look.

`run` puts it together, `loop` runs it, `folder_monitor` looks at folders, `delivery_thread` sends,
`daemon_state` tells `status` about it.
"""
