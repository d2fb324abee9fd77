"""The tests: mirrors of monitor/ and rules/, checks against the outside, real processes."""
