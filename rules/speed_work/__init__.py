"""Fast running: repeats, strides, a time trial, a progression; by speed, cadence and grade-adjusted speed."""

from rules.speed_work.judge import speed_work

__all__ = ["speed_work"]
