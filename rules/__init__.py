"""The judgement: pure functions from facts to findings. No input or output, no clock, no logging."""
