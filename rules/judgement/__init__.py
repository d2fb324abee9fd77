"""The parts of the judge: where a fact stands in the plans, what it breaks, and the finding that tells it."""
