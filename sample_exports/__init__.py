"""Exports of an invented athlete before and after an invented hilly ultra; README.md says what each file shows."""
