"""Facts of one athlete -> rules -> the difference to what stands."""
